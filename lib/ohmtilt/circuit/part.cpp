#include <ohmtilt/circuit/part.h>
#include <ohmtilt/circuit/part_rules.h>
#include <ohmtilt/text/error.h>

#include <algorithm>
#include <utility>

namespace ohmtilt {
namespace {

const PartValue* find(const Part& part, std::string_view key) {
  const auto found = std::find_if(part.values.begin(), part.values.end(),
                                  [&](const PartValue& v) { return v.key == key; });
  return found == part.values.end() ? nullptr : &*found;
}

Part made(PartKind kind, std::string name, std::vector<std::string> nodes,
          std::vector<PartValue> values) {
  Part part;
  part.name = std::move(name);
  part.kind = kind;
  part.nodes = std::move(nodes);
  part.values = std::move(values);
  return part;
}

}  // namespace

bool Part::has(std::string_view key) const { return find(*this, key) != nullptr; }

double Part::value(std::string_view key) const {
  const PartValue* found = find(*this, key);
  if (found == nullptr)
    throw InputError("part \"" + name + "\" has no `" + std::string(key) + "`", "give it");
  return found->value;
}

double Part::value_or(std::string_view key, double fallback) const {
  const PartValue* found = find(*this, key);
  return found == nullptr ? fallback : found->value;
}

std::string_view kind_name(PartKind kind) { return rule_of(kind).name; }

std::optional<PartKind> kind_of_name(std::string_view name) {
  for (const auto& [kind, rule] : kind_rules())
    if (rule.name == name) return kind;
  return std::nullopt;
}

std::vector<std::string> kind_names() {
  std::vector<std::string> names;
  for (const auto& [kind, rule] : kind_rules()) names.emplace_back(rule.name);
  return names;
}

bool is_independent_source(PartKind kind) { return rule_of(kind).nature == PartNature::source; }

bool is_source(PartKind kind) {
  return is_independent_source(kind) || rule_of(kind).nature == PartNature::controlled;
}

Part resistor(std::string name, std::string a, std::string b, double ohm) {
  return made(PartKind::resistor, std::move(name), {std::move(a), std::move(b)}, {{"ohm", ohm}});
}

Part inductor(std::string name, std::string a, std::string b, double henry, double series_ohm) {
  return made(PartKind::inductor, std::move(name), {std::move(a), std::move(b)},
              {{"henry", henry}, {"series_ohm", series_ohm}});
}

Part capacitor(std::string name, std::string a, std::string b, double farad, double series_ohm) {
  return made(PartKind::capacitor, std::move(name), {std::move(a), std::move(b)},
              {{"farad", farad}, {"series_ohm", series_ohm}});
}

Part lossy_inductor(std::string name, std::string a, std::string b, double k, double n) {
  return made(PartKind::lossy_inductor, std::move(name), {std::move(a), std::move(b)},
              {{"k", k}, {"n", n}});
}

Part voltage_source(std::string name, std::string a, std::string b, double volt, double phase_deg) {
  return made(PartKind::voltage_source, std::move(name), {std::move(a), std::move(b)},
              {{"volt", volt}, {"phase_deg", phase_deg}});
}

Part current_source(std::string name, std::string a, std::string b, double ampere,
                    double phase_deg) {
  return made(PartKind::current_source, std::move(name), {std::move(a), std::move(b)},
              {{"ampere", ampere}, {"phase_deg", phase_deg}});
}

Part curve_part(std::string name, std::string a, std::string b, OnePort impedance) {
  Part part = made(PartKind::curve, std::move(name), {std::move(a), std::move(b)}, {});
  part.curve = std::move(impedance);
  return part;
}

Part two_port_part(std::string name, std::vector<std::string> nodes, TwoPort of) {
  Part part = made(PartKind::two_port, std::move(name), std::move(nodes), {});
  part.two_port = std::move(of);
  return part;
}

Part four_terminal(PartKind kind, std::string name, std::vector<std::string> nodes,
                   std::vector<PartValue> values) {
  return made(kind, std::move(name), std::move(nodes), std::move(values));
}

}  // namespace ohmtilt
