#include <ohmtilt/base/error.h>
#include <ohmtilt/design/dual_network.h>

namespace ohmtilt {

std::vector<Part> dual_network(double ohm, double coil_henry,
                               const std::vector<ParallelResonance>& resonances,
                               const std::string& a, const std::string& b) {
  if (!(ohm > 0) || !(coil_henry >= 0) || (coil_henry == 0 && resonances.empty()))
    throw InputError("there is nothing to make a dual of",
                     "give a positive resistance, and a coil or resonances");
  const double square = ohm * ohm;
  std::vector<Part> parts{resistor("dual R", a, "dual", ohm)};
  if (coil_henry > 0) parts.push_back(capacitor("dual C", "dual", b, coil_henry / square));
  for (std::size_t i = 0; i < resonances.size(); ++i) {
    const ParallelResonance& one = resonances[i];
    if (!(one.ohm > 0 && one.henry > 0 && one.farad > 0))
      throw InputError("a resonance with a value that is not positive has no dual",
                       "give ohm, henry and farad above 0");
    const std::string name = "dual " + std::to_string(i + 1);
    parts.push_back(resistor(name + " R", "dual", name + " a", square / one.ohm));
    parts.push_back(inductor(name + " L", name + " a", name + " b", square * one.farad));
    parts.push_back(capacitor(name + " C", name + " b", b, one.henry / square));
  }
  return parts;
}

}  // namespace ohmtilt
