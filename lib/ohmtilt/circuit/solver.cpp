#include <ohmtilt/circuit/part_rules.h>
#include <ohmtilt/circuit/solver.h>
#include <ohmtilt/text/text.h>

#include <memory>
#include <utility>

namespace ohmtilt {
namespace {

// Dividing by nothing is answered here, with the frequency, instead of by infinity.
void refuse_zero(const ComplexArray& values, const Array& hz, const std::string& wrong,
                 const std::string& remedy) {
  for (Eigen::Index f = 0; f < values.size(); ++f)
    if (values[f] == 0.0) throw InputError(wrong + " at " + number_text(hz[f]) + " Hz", remedy);
}

ComplexArray drive_impedance(const NodalSystem& system, const Port& drive,
                             const Solution& solution) {
  ComplexArray z = port_volt(system.equations(), drive, solution);
  refuse_zero(z, system.hz(),
              "port \"" + printable(drive.name, 60) + "\" is shorted in the circuit",
              "drive another port");
  return z;
}

class BranchReader {
 public:
  BranchReader(const NodalSystem& system, const Solution& solution, bool sources_act)
      : system_(system),
        equations_(system.equations()),
        solution_(solution),
        sources_act_(sources_act) {}

  std::vector<Branch> read() const {
    std::vector<Branch> result;
    for (const Element& element : equations_.elements) {
      result.push_back({element.name, between(element, 0, 1), first_current(element)});
      if (has_second(element))
        result.push_back({element.name, between(element, 2, 3), second_current(element)});
    }
    return result;
  }

 private:
  static bool has_second(const Element& element) {
    return rule_of(element.kind).nature == PartNature::coupling;
  }

  ComplexArray unknown(Unknown at) const { return unknown_of(solution_, at); }
  ComplexArray between(const Element& element, int from, int to) const {
    return unknown(element.nodes[from]) - unknown(element.nodes[to]);
  }

  ComplexArray source_current(const Element& element) const {
    const Part& part = system_.parts()[element.part];
    return ComplexArray::Constant(solution_.rows(), sources_act_ ? source_phasor(part) : 0);
  }

  ComplexArray first_current(const Element& element) const {
    if (element.by_branch) return unknown(element.branch);
    switch (element.kind) {
      case PartKind::current_source:
        return source_current(element);
      case PartKind::gyrator:
      case PartKind::voltage_controlled_current_source:
        return system_.term(element.first_term) * between(element, 2, 3);
      case PartKind::current_controlled_current_source:
        return system_.term(element.first_term) * unknown(element.control_branch);
      default:
        return system_.term(element.first_term) * between(element, 0, 1);
    }
  }

  ComplexArray second_current(const Element& element) const {
    if (element.second_branch >= 0) return unknown(element.second_branch);
    if (element.kind == PartKind::transformer)
      return -system_.term(element.first_term) * unknown(element.branch);
    return -system_.term(element.first_term) * between(element, 0, 1);
  }

  const NodalSystem& system_;
  const Equations& equations_;
  const Solution& solution_;
  bool sources_act_;
};

Circuit terminated(const Circuit& circuit, const Port& in, const Port& out, double ohm) {
  CircuitDraft draft = circuit.draft();
  draft.parts.push_back(resistor("termination of port " + in.name, in.plus, in.minus, ohm));
  draft.parts.push_back(resistor("termination of port " + out.name, out.plus, out.minus, ohm));
  return Circuit(std::move(draft));
}

/// Where a circuit without curves is known.
constexpr Band solvable_hz{1e-9, 1e12};

}  // namespace

Band known_band(const Circuit& circuit, const Band& asked) {
  Band band = asked;
  for (const auto& part : circuit.parts()) {
    if (part.curve) band = overlap(band, part.curve->range());
    if (part.two_port) band = overlap(band, part.two_port->range());
  }
  return band;
}

ComplexArray driving_point(const NodalSystem& system, const Port& port) {
  const Equations& equations = system.equations();
  const auto volts = system.solve({port_current(equations, port)},
                                  {equations.node(port.plus), equations.node(port.minus)});
  return volts.front().col(0) - volts.front().col(1);
}

ComplexArray driving_point(const Circuit& circuit, const Array& hz, std::string_view port) {
  return driving_point(NodalSystem(circuit, hz), circuit.port(port));
}

OnePort one_port(const Circuit& circuit, std::string_view port) {
  check_solvable(circuit);
  const auto shared = std::make_shared<const Circuit>(circuit);
  const std::string name = circuit.port(port).name;
  return {known_band(circuit, solvable_hz),
          Remembered<ComplexArray>(
              [shared, name](const Array& hz) { return driving_point(*shared, hz, name); })};
}

SolvedPort::SolvedPort(const Circuit& circuit, std::string_view port)
    : range_(known_band(circuit, solvable_hz)),
      solved_([circuit = std::make_shared<const Circuit>(circuit), name = circuit.port(port).name](
                  const Array& hz) { return thevenin(*circuit, hz, name); }) {
  check_solvable(circuit);
}

OnePort SolvedPort::impedance() const {
  return {range_, [solved = solved_](const Array& hz) { return solved(hz).impedance_ohm; }};
}

std::vector<PortVolt> transfers(const NodalSystem& system, const std::vector<Port>& ports,
                                const Port& drive) {
  const Solution solution = system.solve(port_current(system.equations(), drive));
  const ComplexArray z = drive_impedance(system, drive, solution);
  std::vector<PortVolt> result;
  for (const auto& port : ports)
    if (port.name != drive.name)
      result.push_back({port.name, port_volt(system.equations(), port, solution) / z});
  return result;
}

std::vector<PortVolt> transfers(const Circuit& circuit, const Array& hz, std::string_view drive) {
  return transfers(NodalSystem(circuit, hz), circuit.ports(), circuit.port(drive));
}

std::vector<PortVolt> own_port_volts(const NodalSystem& system, const std::vector<Port>& ports) {
  const Solution solution = system.solve(own_sources(system.equations(), system.parts()));
  std::vector<PortVolt> result;
  for (const auto& port : ports)
    result.push_back({port.name, port_volt(system.equations(), port, solution)});
  return result;
}

std::vector<PortVolt> own_port_volts(const Circuit& circuit, const Array& hz) {
  return own_port_volts(NodalSystem(circuit, hz), circuit.ports());
}

TheveninPort thevenin(const NodalSystem& system, const Port& port) {
  const Equations& equations = system.equations();
  const auto found =
      system.solve({own_sources(equations, system.parts()), port_current(equations, port)});
  return {port_volt(equations, port, found[0]), port_volt(equations, port, found[1])};
}

TheveninPort thevenin(const Circuit& circuit, const Array& hz, std::string_view port) {
  return thevenin(NodalSystem(circuit, hz), circuit.port(port));
}

Scattering scattering(const Circuit& circuit, const Array& hz, std::string_view in,
                      std::string_view out, double reference_ohm) {
  if (!(reference_ohm > 0)) throw InputError("the reference resistance is not positive", "use 50");
  const Port &first = circuit.port(in), &second = circuit.port(out);
  const NodalSystem system(terminated(circuit, first, second, reference_ohm), hz);
  const Equations& equations = system.equations();
  const auto by = system.solve({port_current(equations, first), port_current(equations, second)});
  // 1 A into a terminated port is a wave of amplitude reference_ohm / 2 volt.
  const auto ratio = [&](const Port& port, const Solution& solution) -> ComplexArray {
    return 2 / reference_ohm * port_volt(equations, port, solution);
  };
  return {ratio(first, by[0]) - 1.0, ratio(first, by[1]), ratio(second, by[0]),
          ratio(second, by[1]) - 1.0};
}

ChainParameters chain_parameters(const Circuit& circuit, const Array& hz, std::string_view in,
                                 std::string_view out) {
  const double ohm = 50;  // any; it falls out
  const Scattering s = scattering(circuit, hz, in, out, ohm);
  refuse_zero(s.s21, hz, "nothing comes through from port to port", "name connected ports");
  const ComplexArray product = s.s12 * s.s21, half = 0.5 / s.s21;
  return {half * ((1.0 + s.s11) * (1.0 - s.s22) + product),
          half * ohm * ((1.0 + s.s11) * (1.0 + s.s22) - product),
          half / ohm * ((1.0 - s.s11) * (1.0 - s.s22) - product),
          half * ((1.0 - s.s11) * (1.0 + s.s22) + product)};
}

std::vector<Branch> own_branches(const Circuit& circuit, const Array& hz) {
  const NodalSystem system(circuit, hz);
  const Solution solution = system.solve(own_sources(system.equations(), system.parts()));
  return BranchReader(system, solution, true).read();
}

std::vector<Branch> driven_branches(const Circuit& circuit, const Array& hz,
                                    std::string_view drive) {
  const NodalSystem system(circuit, hz);
  const Port& driven = circuit.port(drive);
  const Solution for_ampere = system.solve(port_current(system.equations(), driven));
  const ComplexArray y = drive_impedance(system, driven, for_ampere).inverse();
  const Solution for_volt = for_ampere.colwise() * y;
  auto branches = BranchReader(system, for_volt, false).read();
  branches.push_back({"drive", ComplexArray::Ones(hz.size()), -y});
  return branches;
}

}  // namespace ohmtilt
