#include <ohmtilt/base/error.h>
#include <ohmtilt/design/dual_network.h>

namespace ohmtilt {

SeriesResonance dual_of(const ParallelResonance& resonance, double ohm) {
  if (!(resonance.ohm > 0 && resonance.henry > 0 && resonance.farad > 0))
    throw InputError("a resonance with a value that is not positive has no dual",
                     "give ohm, henry and farad above 0");
  const double square = ohm * ohm;
  return {square / resonance.ohm, square * resonance.farad, resonance.henry / square};
}

std::vector<Part> dual_network(double ohm, double coil_henry,
                               const std::vector<ParallelResonance>& resonances,
                               const std::string& a, const std::string& b) {
  if (!(ohm > 0) || !(coil_henry >= 0) || (coil_henry == 0 && resonances.empty()))
    throw InputError("there is nothing to make a dual of",
                     "give a positive resistance, and a coil or resonances");
  std::vector<Part> parts{resistor("dual R", a, "dual", ohm)};
  if (coil_henry > 0) parts.push_back(capacitor("dual C", "dual", b, coil_henry / (ohm * ohm)));
  for (std::size_t i = 0; i < resonances.size(); ++i) {
    const SeriesResonance one = dual_of(resonances[i], ohm);
    const std::string name = "dual " + std::to_string(i + 1);
    parts.push_back(resistor(name + " R", "dual", name + " a", one.ohm));
    parts.push_back(inductor(name + " L", name + " a", name + " b", one.henry));
    parts.push_back(capacitor(name + " C", name + " b", b, one.farad));
  }
  return parts;
}

}  // namespace ohmtilt
