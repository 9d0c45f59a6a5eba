#include <ohmtilt/circuit/varied_values.h>

#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

bool is_varied_key(const std::string& key) {
  return key != "n" && key != "coil_n" && key != "phase_deg";
}

void add_values(const Part& part, std::size_t at, std::vector<VariedValue>& values) {
  for (std::size_t k = 0; k < part.values.size(); ++k) {
    const PartValue& value = part.values[k];
    if (value.value == 0 || !is_varied_key(value.key)) continue;
    values.push_back({{at, k}, value.value, part.tolerance_percent / 100, false});
  }
}

/// An ideal transformer of ratio r in front of a curve makes its impedance r^2 times as large.
Part scale_in_front(Part& curve) {
  const std::string inner = "behind the scale of " + curve.name;
  Part scale =
      four_terminal(PartKind::transformer, "scale of " + curve.name,
                    {curve.nodes[0], curve.nodes[1], inner, curve.nodes[1]}, {{"ratio", 1}});
  curve.nodes[0] = inner;
  return scale;
}

}  // namespace

double VariedValue::at(double deviate) const {
  const double factor = 1 + tolerance * deviate;
  return nominal * (is_squared ? std::sqrt(factor) : factor);
}

VariedCircuit varied_circuit(const Circuit& circuit) {
  CircuitDraft draft = circuit.draft();
  std::vector<VariedValue> values;
  for (std::size_t i = 0; i < circuit.parts().size(); ++i) {
    const double tolerance = draft.parts[i].tolerance_percent / 100;
    if (!(tolerance > 0)) continue;
    if (draft.parts[i].kind != PartKind::curve) {
      add_values(draft.parts[i], i, values);
      continue;
    }
    Part scale = scale_in_front(draft.parts[i]);
    values.push_back({{draft.parts.size(), 0}, 1, tolerance, true});
    draft.parts.push_back(std::move(scale));
  }
  return {Circuit(std::move(draft)), std::move(values)};
}

bool is_resistive(const Circuit& circuit) {
  const auto resistive = [](const Part& part) {
    switch (part.kind) {
      case PartKind::resistor:
      case PartKind::transformer:
      case PartKind::gyrator:
      case PartKind::voltage_source:
      case PartKind::current_source:
      case PartKind::voltage_controlled_voltage_source:
      case PartKind::voltage_controlled_current_source:
      case PartKind::current_controlled_voltage_source:
      case PartKind::current_controlled_current_source:
        return true;
      default:
        return false;
    }
  };
  return std::all_of(circuit.parts().begin(), circuit.parts().end(), resistive);
}

}  // namespace ohmtilt
