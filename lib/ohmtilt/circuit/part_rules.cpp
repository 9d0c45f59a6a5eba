#include <ohmtilt/base/physical.h>
#include <ohmtilt/circuit/part_rules.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
#include <cmath>
#include <optional>

namespace ohmtilt {
namespace {

using enum ValueRange;
constexpr bool required = true, optional = false, resistance = true, plain = false;

std::map<PartKind, KindRule> all_rules() {
  using enum PartNature;
  constexpr bool memoryless = true, reactive = false;
  std::map<PartKind, KindRule> rules;
  const auto add = [&](PartKind kind, std::string_view name, PartNature nature, bool is_memoryless,
                       std::size_t nodes, std::vector<ValueRule> values) -> KindRule& {
    return rules[kind] = {name, nature, is_memoryless, nodes, std::move(values), {}};
  };
  add(PartKind::resistor, "resistor", impedance, memoryless, 2,
      {{"ohm", not_negative, required, resistance}});
  add(PartKind::inductor, "inductor", impedance, reactive, 2,
      {{"henry", not_negative, required, plain},
       {"series_ohm", not_negative, optional, resistance}});
  add(PartKind::capacitor, "capacitor", impedance, reactive, 2,
      {{"farad", positive, required, plain},
       {"series_ohm", not_negative, optional, resistance},
       {"loss_tangent", up_to_one, optional, plain}});
  add(PartKind::lossy_inductor, "lossy-inductor", impedance, reactive, 2,
      {{"k", positive, required, plain}, {"n", positive_up_to_one, required, plain}});
  add(PartKind::transformer, "transformer", coupling, memoryless, 4,
      {{"ratio", not_zero, required, plain}});
  add(PartKind::gyrator, "gyrator", coupling, memoryless, 4,
      {{"ohm", not_zero, required, resistance}});
  add(PartKind::coupled_inductors, "coupled-inductors", coupling, reactive, 4,
      {{"henry", positive, required, plain},
       {"second_henry", positive, required, plain},
       {"coupling", up_to_one, required, plain}});
  const ValueRule phase{"phase_deg", any, optional, plain};
  add(PartKind::voltage_source, "voltage-source", source, memoryless, 2,
      {{"volt", not_negative, required, plain}, phase});
  add(PartKind::current_source, "current-source", source, memoryless, 2,
      {{"ampere", not_negative, required, plain}, phase});
  add(PartKind::voltage_controlled_voltage_source, "voltage-controlled-voltage-source", controlled,
      memoryless, 4, {{"gain", any, required, plain}});
  add(PartKind::voltage_controlled_current_source, "voltage-controlled-current-source", controlled,
      memoryless, 4, {{"siemens", any, required, plain}});
  add(PartKind::current_controlled_voltage_source, "current-controlled-voltage-source", controlled,
      memoryless, 2, {{"ohm", any, required, plain}})
      .control = true;
  add(PartKind::current_controlled_current_source, "current-controlled-current-source", controlled,
      memoryless, 2, {{"gain", any, required, plain}})
      .control = true;
  add(PartKind::curve, "curve", impedance, reactive, 2, {}).file = true;
  add(PartKind::two_port, "two-port", coupling, reactive, 4, {}).file = true;
  const ValueRule dc{"dc_ohm", positive, required, resistance};
  const ValueRule gram{"moving_gram", positive, optional, plain};
  const ValueRule compliance{"compliance_mm_per_newton", positive, optional, plain};
  const ValueRule friction{"resistance_kg_per_second", positive, optional, plain};
  const ValueRule force{"force_factor_newton_per_ampere", positive, optional, plain};
  add(PartKind::dynamic_driver, "dynamic-driver", driver, reactive, 2,
      {dc,
       {"resonance_hz", positive, optional, plain},
       {"q_mechanical", positive, optional, plain},
       {"q_electrical", positive, optional, plain},
       {"coil_henry", not_negative, optional, plain},
       {"coil_k", positive, optional, plain},
       {"coil_n", positive_up_to_one, optional, plain},
       gram,
       compliance,
       friction,
       force});
  add(PartKind::armature_driver, "armature-driver", driver, reactive, 2,
      {dc,
       {"coil_henry", not_negative, required, plain},
       {"coil_k", not_negative, required, plain},
       {"magnetic_stiffness_newton_per_mm", not_negative, optional, plain},
       gram,
       compliance,
       friction,
       force})
      .resonance = {{"hz", positive, required, plain},
                    {"q", positive, required, plain},
                    {"peak_ohm", positive, required, resistance}};
  add(PartKind::planar_driver, "planar-driver", driver, reactive, 2,
      {dc, {"coil_henry", not_negative, optional, plain}});
  add(PartKind::piezo_driver, "piezo-driver", driver, reactive, 2,
      {{"farad", positive, required, plain}, {"loss_tangent", up_to_one, optional, plain}})
      .resonance = {{"ohm", positive, required, resistance},
                    {"henry", positive, required, plain},
                    {"farad", positive, required, plain}};
  return rules;
}

std::string range_wanted(ValueRange range) {
  switch (range) {
    case not_zero:
      return "a number other than 0";
    case not_negative:
      return "0 or more";
    case positive:
      return "more than 0";
    case up_to_one:
      return "from 0 to 1";
    case positive_up_to_one:
      return "more than 0 and at most 1";
    case any:
      break;
  }
  return "a number";
}

bool within(double value, ValueRange range) {
  switch (range) {
    case not_zero:
      return value != 0;
    case not_negative:
      return value >= 0;
    case positive:
      return value > 0;
    case up_to_one:
      return value >= 0 && value <= 1;
    case positive_up_to_one:
      return value > 0 && value <= 1;
    case any:
      break;
  }
  return true;
}

std::optional<PartFault> value_fault(const PartValue& found, ValueRange range) {
  if (!std::isfinite(found.value)) return PartFault{found.key, "is not finite", "write a number"};
  if (!within(found.value, range))
    return PartFault{found.key, "is " + number_text(found.value) + ", which is not physical",
                     "it should be " + range_wanted(range)};
  if (!magnitude_is_physical(found.value))
    return PartFault{found.key, "is " + number_text(found.value) + ", beyond anything physical",
                     "check its unit"};
  return std::nullopt;
}

// Every rule's key with the value's full key: plain ones, then those of each resonance.
std::vector<std::pair<std::string, ValueRule>> keyed_rules(const Part& part) {
  const KindRule& rule = rule_of(part.kind);
  std::vector<std::pair<std::string, ValueRule>> result;
  for (const auto& value : rule.values) result.emplace_back(std::string(value.key), value);
  for (std::size_t r = 1; r <= resonance_count(part); ++r)
    for (const auto& value : rule.resonance)
      result.emplace_back(resonance_key(r, value.key), value);
  return result;
}

void add_value_faults(const Part& part, std::vector<PartFault>& faults) {
  const auto rules = keyed_rules(part);
  std::vector<std::string> known;
  for (const auto& [key, rule] : rules) {
    known.push_back(key);
    if (rule.required && !part.has(key)) faults.push_back({key, "is missing", "add it"});
  }
  for (std::size_t i = 0; i < part.values.size(); ++i) {
    const auto& value = part.values[i];
    const auto at = std::find(known.begin(), known.end(), value.key);
    if (at == known.end()) {
      faults.push_back({value.key, "is not known to this kind", "known are " + listed(known)});
      continue;
    }
    const auto same = [&](const PartValue& v) { return v.key == value.key; };
    if (std::find_if(part.values.begin(), part.values.begin() + i, same) != part.values.begin() + i)
      faults.push_back({value.key, "is given twice", "keep one"});
    const auto& rule = rules[static_cast<std::size_t>(at - known.begin())].second;
    if (auto fault = value_fault(value, rule.range)) faults.push_back(*fault);
  }
}

void add_node_faults(const Part& part, std::vector<PartFault>& faults) {
  const std::size_t wanted = rule_of(part.kind).nodes;
  if (part.nodes.size() != wanted) {
    faults.push_back({"nodes", "names " + std::to_string(part.nodes.size()) + " nodes",
                      "this kind has " + std::to_string(wanted)});
    return;
  }
  for (const auto& node : part.nodes)
    if (trimmed(node).empty()) faults.push_back({"nodes", "holds an empty name", "name the node"});
  for (std::size_t i = 0; i + 1 < wanted; i += 2)
    if (part.nodes[i] == part.nodes[i + 1])
      faults.push_back({"nodes", "has both ends on node \"" + printable(part.nodes[i], 60) + "\"",
                        "connect them to two nodes"});
}

// All of the keys or none of them; reports the first that is missing.
void add_group_fault(const Part& part, const std::vector<std::string>& keys,
                     std::vector<PartFault>& faults) {
  for (const auto& key : keys)
    if (!part.has(key)) {
      faults.push_back({key, "is missing", "give all of " + listed(keys)});
      return;
    }
}

const std::vector<std::string> mechanical_keys{"moving_gram", "compliance_mm_per_newton",
                                               "resistance_kg_per_second",
                                               "force_factor_newton_per_ampere"};

void add_dynamic_faults(const Part& part, std::vector<PartFault>& faults) {
  const std::vector<std::string> electrical{"resonance_hz", "q_mechanical", "q_electrical"};
  add_group_fault(part, is_mechanical(part) ? mechanical_keys : electrical, faults);
  for (const auto& key : electrical)
    if (is_mechanical(part) && part.has(key))
      faults.push_back({key, "stands beside the mechanical keys", "give one set or the other"});
  if (part.has("coil_k") != part.has("coil_n")) add_group_fault(part, {"coil_k", "coil_n"}, faults);
  if (part.has("coil_k") && part.has("coil_henry"))
    faults.push_back({"coil_henry", "stands beside coil_k", "describe the coil one way"});
}

void add_armature_faults(const Part& part, std::vector<PartFault>& faults) {
  const std::string stiffness = "magnetic_stiffness_newton_per_mm";
  if (!is_mechanical(part)) {
    if (resonance_count(part) == 0)
      faults.push_back(
          {"resonance", "is missing", "add a [[part.resonance]] or the mechanical keys"});
    if (part.has(stiffness)) add_group_fault(part, mechanical_keys, faults);
    return;
  }
  add_group_fault(part, mechanical_keys, faults);
  if (resonance_count(part) > 0)
    faults.push_back({"resonance", "stands beside the mechanical keys", "give one or the other"});
  const double suspension = 1 / part.value_or("compliance_mm_per_newton", 1);
  if (!(part.value_or(stiffness, 0) < suspension))
    faults.push_back({stiffness,
                      "is not below the suspension's " + number_text(suspension) + " N/mm",
                      "the armature would stick to the magnet"});
}

void add_tolerance_fault(const Part& part, std::vector<PartFault>& faults) {
  const double percent = part.tolerance_percent;
  if (!(percent >= 0 && percent < 100))
    faults.push_back({"tolerance_percent", "is " + number_text(percent),
                      "it should be from 0 to less than 100"});
  else if (percent > 0 && rule_of(part.kind).nodes != 2)
    faults.push_back({"tolerance_percent",
                      "stands at a four-terminal part, which is taken as exact", "leave it out"});
}

void add_curve_fault(const Part& part, std::vector<PartFault>& faults) {
  if (part.kind == PartKind::curve && !part.curve)
    faults.push_back({"file", "is missing", "name the file of its impedance"});
  if (part.kind == PartKind::two_port && !part.two_port)
    faults.push_back({"file", "is missing", "name the file of its parameters (.s2p)"});
}

}  // namespace

const std::map<PartKind, KindRule>& kind_rules() {
  static const std::map<PartKind, KindRule> rules = all_rules();
  return rules;
}

const KindRule& rule_of(PartKind kind) { return kind_rules().at(kind); }

std::string resonance_key(std::size_t number, std::string_view key) {
  return "resonance." + std::to_string(number) + "." + std::string(key);
}

std::size_t resonance_count(const Part& part) {
  const auto& resonance = rule_of(part.kind).resonance;
  std::size_t count = 0;
  const auto given = [&](std::size_t number) {
    return std::any_of(resonance.begin(), resonance.end(), [&](const ValueRule& rule) {
      return part.has(resonance_key(number, rule.key));
    });
  };
  while (given(count + 1)) ++count;
  return count;
}

bool is_mechanical(const Part& part) {
  return std::any_of(mechanical_keys.begin(), mechanical_keys.end(),
                     [&](const std::string& key) { return part.has(key); });
}

std::vector<PartFault> part_faults(const Part& part) {
  std::vector<PartFault> faults;
  add_node_faults(part, faults);
  add_value_faults(part, faults);
  add_curve_fault(part, faults);
  if (part.kind == PartKind::dynamic_driver) add_dynamic_faults(part, faults);
  if (part.kind == PartKind::armature_driver) add_armature_faults(part, faults);
  add_tolerance_fault(part, faults);
  return faults;
}

}  // namespace ohmtilt
