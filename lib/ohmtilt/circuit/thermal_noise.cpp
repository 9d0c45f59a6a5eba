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

/// What a passive two-port's losses give at the port: the waves that it sends out have the powers
/// k T (1 - S S^H) [Bosma1967], and row k of its equations takes 2 sqrt(R_k) of wave k.
Array two_port_square(const TwoPort& of, const Array& hz, const ComplexArray& gain1,
                      const ComplexArray& gain2) {
  const Scattering s = of.at(hz);
  const ComplexArray w1 = std::sqrt(of.reference_ohm()[0]) * gain1;
  const ComplexArray w2 = std::sqrt(of.reference_ohm()[1]) * gain2;
  const Array own1 = 1 - s.s11.abs2() - s.s12.abs2(), own2 = 1 - s.s21.abs2() - s.s22.abs2();
  const ComplexArray common = -(s.s11 * s.s21.conjugate() + s.s12 * s.s22.conjugate());
  return own1 * w1.abs2() + own2 * w2.abs2() + 2 * (w1 * common * w2.conjugate()).real();
}

void add_two_port(const NodalSystem& system, const Element& element, const Solution& adjoint,
                  Array& power, ThermalNoise& result) {
  const TwoPort& of = *system.parts()[element.part].two_port;
  const Array square = two_port_square(of, system.hz(), unknown_of(adjoint, element.branch),
                                       unknown_of(adjoint, element.second_branch));
  power += square.max(0);
  if ((largest_wave(of.at(system.hz())) > 1 + 1e-3).any())
    result.warnings.push_back("two-port \"" + printable(element.name, 60) +
                              "\" gives out power somewhere; no noise of its own is counted there");
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
    else if (element.kind == PartKind::two_port)
      add_two_port(system, element, adjoint, powers[element.part], result);
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
