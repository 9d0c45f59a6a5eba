#include <ohmtilt/circuit/nodal_system.h>
#include <ohmtilt/circuit/thermal_noise.h>
#include <ohmtilt/text/text.h>

#include <cmath>

namespace ohmtilt {
namespace {

// Re of the part's own term (ohm, or siemens) times the squared gain of its noise to the port.
Array square_at_port(const NodalSystem& system, const Element& element, const Solution& adjoint) {
  const ComplexArray gain = element.by_branch ? unknown_of(adjoint, element.branch)
                                              : ComplexArray(unknown_of(adjoint, element.nodes[0]) -
                                                             unknown_of(adjoint, element.nodes[1]));
  return system.term(element.first_term).real() * gain.abs2();
}

void add_element(const NodalSystem& system, const Element& element, const Solution& adjoint,
                 Array& power, ThermalNoise& result) {
  const Array square = square_at_port(system, element, adjoint);
  power += square.max(0);
  if ((system.term(element.first_term).real() < 0).any())
    result.warnings.push_back("part \"" + printable(element.name, 60) +
                              "\" has a negative resistance somewhere; no noise is counted there");
}

}  // namespace

ThermalNoise thermal_noise(const Circuit& circuit, const Array& hz, std::string_view port,
                           double kelvin) {
  if (!(kelvin >= 0 && std::isfinite(kelvin)))
    throw InputError("a temperature of " + number_text(kelvin) + " K is not physical",
                     "give kelvin, 293.15 for a room");
  const NodalSystem system(circuit, hz);
  const auto adjoint = system.solve(port_current(system.equations(), circuit.port(port), true));
  std::vector<Array> powers(circuit.parts().size(), Array::Zero(hz.size()));
  ThermalNoise result;
  for (const Element& element : system.equations().elements)
    if (is_impedance(element.kind))
      add_element(system, element, adjoint, powers[element.part], result);
  const double scale = 4 * boltzmann_joule_per_kelvin * kelvin;
  Array total = Array::Zero(hz.size());
  for (std::size_t p = 0; p < powers.size(); ++p) {
    total += powers[p];
    if ((powers[p] > 0).any())
      result.parts.push_back({circuit.parts()[p].name, (scale * powers[p]).sqrt()});
  }
  result.volt_per_root_hz = (scale * total).sqrt();
  return result;
}

}  // namespace ohmtilt
