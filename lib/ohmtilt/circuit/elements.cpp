#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/reciprocal.h>
#include <ohmtilt/circuit/elements.h>
#include <ohmtilt/circuit/part_rules.h>
#include <ohmtilt/circuit/quoted_name.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
#include <map>
#include <numbers>
#include <utility>

namespace ohmtilt {
namespace {

constexpr int unknown_limit = 1000;
constexpr double low_impedance_ohm = 100;

class EquationBuilder {
 public:
  EquationBuilder(const Circuit& circuit, const Array& hz) : hz_(hz) {
    result_.reference = circuit.reference();
    number_nodes(circuit);
    for (std::size_t p = 0; p < circuit.parts().size(); ++p)
      for (const Part& part : expanded(circuit.parts()[p])) add_element(part, p);
    for (auto& [element, control] : controlled_)
      result_.elements[element].control_branch = branch_of_source_.at(control);
    for (const auto& element : result_.elements) add_stamps(element);
    if (result_.size() > unknown_limit)
      throw InputError("the circuit has more than " + std::to_string(unknown_limit) + " unknowns",
                       "split it");
  }
  Equations take() { return std::move(result_); }

 private:
  void number_nodes(const Circuit& circuit) {
    for (const auto& part : circuit.parts())
      for (const Part& elementary : expanded(part))
        for (const auto& name : elementary.nodes) number_node(name);
  }

  void number_node(const std::string& name) {
    if (name == result_.reference || node_of_.contains(name)) return;
    node_of_[name] = result_.size();
    result_.node_names.push_back(name);
    result_.unknown_names.push_back("node " + quoted_name(name));
  }

  Unknown new_branch(const std::string& part) {
    result_.unknown_names.push_back("the current of " + quoted_name(part));
    return result_.size() - 1;
  }

  void add_element(const Part& part, std::size_t index) {
    Element element;
    element.part = index;
    element.kind = part.kind;
    element.name = part.name;
    for (std::size_t i = 0; i < part.nodes.size(); ++i)
      element.nodes[i] = part.nodes[i] == result_.reference ? -1 : node_of_.at(part.nodes[i]);
    element.by_branch = has_branch(part);
    if (element.by_branch) element.branch = new_branch(part.name);
    if (has_two_branches(part.kind)) element.second_branch = new_branch(part.name);
    element.first_term = result_.terms;
    element.terms = static_cast<int>(terms_of(part, element.by_branch, hz_.head(1)).size());
    result_.terms += element.terms;
    if (part.kind == PartKind::voltage_source) branch_of_source_[part.name] = element.branch;
    if (!part.control.empty()) controlled_.emplace_back(result_.elements.size(), part.control);
    result_.elements.push_back(std::move(element));
  }

  static bool has_two_branches(PartKind kind) {
    return kind == PartKind::coupled_inductors || kind == PartKind::two_port;
  }

  bool has_branch(const Part& part) const {
    if (is_impedance(part.kind))
      return terms_of(part, true, hz_)[0].abs().minCoeff() < low_impedance_ohm;
    switch (part.kind) {
      case PartKind::voltage_source:
      case PartKind::transformer:
      case PartKind::coupled_inductors:
      case PartKind::two_port:
      case PartKind::voltage_controlled_voltage_source:
      case PartKind::current_controlled_voltage_source:
        return true;
      default:
        return is_zero_ohm(part);
    }
  }

  void stamp(Unknown row, Unknown column, int term, double sign) {
    if (row >= 0 && column >= 0) result_.stamps.push_back({row, column, term, sign});
  }

  // A current of term * (v(c) - v(d)), or term * branch current c, leaves node a and enters node b.
  void stamp_current(Unknown a, Unknown b, Unknown c, Unknown d, int term, double sign) {
    stamp(a, c, term, sign);
    stamp(a, d, term, -sign);
    stamp(b, c, term, -sign);
    stamp(b, d, term, sign);
  }

  // The branch current flows from a through the part to b; its row fixes v(a) - v(b).
  void stamp_branch(Unknown a, Unknown b, Unknown branch) {
    stamp_current(a, b, branch, -1, 0, 1);
    stamp(branch, a, 0, 1);
    stamp(branch, b, 0, -1);
  }

  void add_coupled(const Element& e) {
    stamp_branch(e.nodes[2], e.nodes[3], e.second_branch);
    stamp(e.branch, e.branch, e.first_term, -1);
    stamp(e.second_branch, e.second_branch, e.first_term + 1, -1);
    stamp(e.branch, e.second_branch, e.first_term + 2, -1);
    stamp(e.second_branch, e.branch, e.first_term + 2, -1);
  }

  // Both rows are v_k - R_k i_k = sum of S_kl sqrt(R_k/R_l) (v_l + R_l i_l); currents into the
  // ports.
  void add_two_port(const Element& e) {
    const auto [a, b, c, d] = e.nodes;
    stamp_current(a, b, e.branch, -1, 0, 1);
    stamp_current(c, d, e.second_branch, -1, 0, 1);
    int t = e.first_term;
    for (const Unknown row : {e.branch, e.second_branch}) {
      stamp(row, a, t, 1);
      stamp(row, b, t, -1);
      stamp(row, e.branch, t + 1, -1);
      stamp(row, c, t + 2, 1);
      stamp(row, d, t + 2, -1);
      stamp(row, e.second_branch, t + 3, -1);
      t += 4;
    }
  }

  void add_stamps(const Element& e) {
    if (e.kind == PartKind::two_port) return add_two_port(e);
    const auto [a, b, c, d] = e.nodes;
    const int t = e.first_term;
    if (e.by_branch) stamp_branch(a, b, e.branch);
    switch (e.kind) {
      case PartKind::current_source:
      case PartKind::voltage_source:
        return;
      case PartKind::coupled_inductors:
        return add_coupled(e);
      case PartKind::transformer:
        stamp_current(c, d, e.branch, -1, t, -1);
        [[fallthrough]];
      case PartKind::voltage_controlled_voltage_source:
        stamp(e.branch, c, t, -1);
        return stamp(e.branch, d, t, 1);
      case PartKind::current_controlled_voltage_source:
        return stamp(e.branch, e.control_branch, t, -1);
      case PartKind::gyrator:
        stamp_current(c, d, a, b, t, -1);
        [[fallthrough]];
      case PartKind::voltage_controlled_current_source:
        return stamp_current(a, b, c, d, t, 1);
      case PartKind::current_controlled_current_source:
        return stamp_current(a, b, e.control_branch, -1, t, 1);
      default:
        if (e.by_branch) return stamp(e.branch, e.branch, t, -1);
        stamp_current(a, b, a, b, t, 1);
    }
  }

  const Array& hz_;
  Equations result_;
  std::map<std::string, Unknown> node_of_, branch_of_source_;
  std::vector<std::pair<std::size_t, std::string>> controlled_;
};

ComplexArray j_omega(const Array& hz) {
  return Complex(0, 2 * std::numbers::pi) * hz.cast<Complex>();
}

ComplexArray capacitor_impedance(const Part& part, const ComplexArray& s) {
  const Complex farad = part.value("farad") * Complex(1, -part.value_or("loss_tangent", 0));
  return reciprocal(farad * s) + part.value_or("series_ohm", 0);
}

// k (j w)^n has the phase n * 90 degrees at every frequency [Leach2002].
ComplexArray lossy_inductor_impedance(const Part& part, const Array& hz) {
  const double n = part.value("n");
  const Array magnitude = part.value("k") * (2 * std::numbers::pi * hz).pow(n);
  return magnitude.cast<Complex>() * std::polar(1.0, n * 90 * degree);
}

ComplexArray lossy_inductor_off_axis(const Part& part, const ComplexArray& s) {
  const double k = part.value("k"), n = part.value("n");
  return s.unaryExpr([k, n](Complex at) { return k * std::pow(at, n); });
}

/// Of the parts whose impedance is a rational function of s.
ComplexArray rational_impedance(const Part& part, const ComplexArray& s) {
  if (part.kind == PartKind::inductor)
    return part.value("henry") * s + part.value_or("series_ohm", 0);
  if (part.kind == PartKind::capacitor) return capacitor_impedance(part, s);
  return ComplexArray::Constant(s.size(), part.value("ohm"));
}

ComplexArray impedance_of(const Part& part, const Array& hz) {
  if (part.kind == PartKind::lossy_inductor) return lossy_inductor_impedance(part, hz);
  if (part.kind == PartKind::curve) return part.curve->at(hz);
  return rational_impedance(part, j_omega(hz));
}

ComplexArray impedance_off_axis(const Part& part, const ComplexArray& s) {
  if (part.kind == PartKind::lossy_inductor) return lossy_inductor_off_axis(part, s);
  if (part.kind == PartKind::curve)
    throw InputError("curve " + quoted_name(part.name) + " is known on the frequency axis only",
                     "put the circuit fitted to it in its place");
  return rational_impedance(part, s);
}

std::vector<ComplexArray> coupled_terms(const Part& part, const ComplexArray& s) {
  const double first = part.value("henry"), second = part.value("second_henry");
  const double mutual = part.value("coupling") * std::sqrt(first * second);
  return {first * s, second * s, mutual * s};
}

/// Of row 1 and then of row 2 the factors of v1, -i1, v2, -i2: 1 - S11, R1 (1 + S11),
/// -S12 sqrt(R1/R2), S12 sqrt(R1 R2); -S21 sqrt(R2/R1), S21 sqrt(R1 R2), 1 - S22, R2 (1 + S22).
std::vector<ComplexArray> two_port_terms(const TwoPort& of, const Array& hz) {
  const Scattering s = of.at(hz);
  const auto [r1, r2] = of.reference_ohm();
  const double mean = std::sqrt(r1 * r2), ratio = std::sqrt(r1 / r2);
  return {1.0 - s.s11,    r1 * (1.0 + s.s11), -ratio * s.s12, mean * s.s12,
          -s.s21 / ratio, mean * s.s21,       1.0 - s.s22,    r2 * (1.0 + s.s22)};
}

/// The terms of parts that are no impedance and do not change with frequency.
std::vector<ComplexArray> constant_terms(const Part& part, Eigen::Index count) {
  const auto constant = [count](double value) {
    return std::vector<ComplexArray>{ComplexArray::Constant(count, value)};
  };
  switch (part.kind) {
    case PartKind::voltage_source:
    case PartKind::current_source:
      return {};
    case PartKind::gyrator:
      return constant(1 / part.value("ohm"));
    case PartKind::transformer:
      return constant(part.value("ratio"));
    case PartKind::voltage_controlled_current_source:
      return constant(part.value("siemens"));
    case PartKind::current_controlled_voltage_source:
      return constant(part.value("ohm"));
    default:
      return constant(part.value("gain"));
  }
}

std::vector<ComplexArray> impedance_term(const ComplexArray& z, bool by_branch) {
  return {by_branch ? z : reciprocal(z)};
}

}  // namespace

bool is_zero_ohm(const Part& part) {
  if (part.kind == PartKind::resistor) return part.value("ohm") == 0;
  return part.kind == PartKind::inductor && part.value("henry") == 0 &&
         part.value_or("series_ohm", 0) == 0;
}

bool is_impedance(PartKind kind) { return rule_of(kind).nature == PartNature::impedance; }

std::vector<ComplexArray> terms_of(const Part& part, bool by_branch, const Array& hz) {
  if (is_impedance(part.kind)) return impedance_term(impedance_of(part, hz), by_branch);
  if (part.kind == PartKind::coupled_inductors) return coupled_terms(part, j_omega(hz));
  if (part.kind == PartKind::two_port) return two_port_terms(*part.two_port, hz);
  return constant_terms(part, hz.size());
}

std::vector<ComplexArray> terms_off_axis(const Part& part, bool by_branch, const ComplexArray& s) {
  if (is_impedance(part.kind)) return impedance_term(impedance_off_axis(part, s), by_branch);
  if (part.kind == PartKind::coupled_inductors) return coupled_terms(part, s);
  if (part.kind == PartKind::two_port)
    throw InputError("two-port " + quoted_name(part.name) + " is known on the frequency axis only",
                     "put the circuit behind it in its place");
  return constant_terms(part, s.size());
}

Unknown Equations::node(const std::string& name) const {
  if (name == reference) return reference_node;
  const auto found = std::find(node_names.begin(), node_names.end(), name);
  if (found == node_names.end())
    throw InputError("the circuit has no node " + quoted_name(name), "name one that it has");
  return static_cast<Unknown>(found - node_names.begin());
}

Equations equations_of(const Circuit& circuit, const Array& hz) {
  check_solvable(circuit);
  return EquationBuilder(circuit, hz).take();
}

}  // namespace ohmtilt
