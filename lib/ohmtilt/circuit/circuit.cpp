#include <ohmtilt/circuit/circuit.h>
#include <ohmtilt/circuit/part_rules.h>
#include <ohmtilt/circuit/quoted_name.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
#include <set>
#include <utility>

namespace ohmtilt {
namespace {

constexpr std::size_t part_limit = 5000, port_limit = 100, resonance_limit = 50;

Place place_in(const CircuitDraft& draft, const Part& part) { return {draft.file, part.line, 0}; }

// A circuit made in memory has no file to point at.
[[noreturn]] void refuse(const Place& place, const std::string& wrong, const std::string& remedy) {
  if (place.file.empty()) throw InputError(wrong, remedy);
  throw InputError(place, wrong, remedy);
}

void check_part(const CircuitDraft& draft, const Part& part) {
  if (trimmed(part.name).empty())
    refuse(place_in(draft, part), "a part has no name", "give it one");
  if (resonance_count(part) > resonance_limit)
    refuse(place_in(draft, part), "part " + quoted_name(part.name) + " has more than 50 resonances",
           "keep those that matter");
  const auto faults = part_faults(part);
  if (!faults.empty())
    refuse(place_in(draft, part),
           "part " + quoted_name(part.name) + ": `" + printable(faults[0].key, 60) + "` " +
               faults[0].wrong,
           faults[0].remedy);
}

void check_names(const CircuitDraft& draft) {
  std::set<std::string> seen;
  for (const auto& part : draft.parts)
    if (!seen.insert(part.name).second)
      refuse(place_in(draft, part), "two parts have the name " + quoted_name(part.name),
             "rename one of them");
}

void check_controls(const CircuitDraft& draft) {
  std::vector<std::string> sources;
  for (const auto& part : draft.parts)
    if (part.kind == PartKind::voltage_source) sources.push_back(part.name);
  for (const auto& part : draft.parts) {
    if (!rule_of(part.kind).control) continue;
    if (std::find(sources.begin(), sources.end(), part.control) == sources.end())
      refuse(place_in(draft, part),
             "part " + quoted_name(part.name) +
                 ": `control` names no voltage source: " + quoted_name(part.control),
             sources.empty() ? "add a voltage-source of 0 volt where the current flows"
                             : "voltage sources here are " + printable(listed(sources)));
  }
}

std::set<std::string> node_names(const CircuitDraft& draft) {
  std::set<std::string> nodes;
  for (const auto& part : draft.parts) nodes.insert(part.nodes.begin(), part.nodes.end());
  return nodes;
}

void check_port(const CircuitDraft& draft, const Port& port, const std::set<std::string>& nodes) {
  const std::string who = "port " + quoted_name(port.name);
  for (const auto& node : {port.plus, port.minus}) {
    if (nodes.contains(node)) continue;
    const auto nearest = nearest_word(node, {nodes.begin(), nodes.end()});
    refuse({draft.file}, who + " is on the unknown node " + quoted_name(node),
           nearest ? "did you mean " + quoted_name(*nearest) + "?" : "name a node that a part has");
  }
  if (port.plus == port.minus)
    refuse({draft.file}, who + " has both ends on node " + quoted_name(port.plus),
           "name two nodes");
}

void check_ports(const CircuitDraft& draft) {
  if (draft.ports.empty())
    refuse({draft.file}, "the circuit has no port", "add one under [ports]: name = [node, node]");
  if (draft.ports.size() > port_limit)
    refuse({draft.file}, "the circuit has more than 100 ports", "keep those that are asked for");
  const auto nodes = node_names(draft);
  std::set<std::string> seen;
  for (const auto& port : draft.ports) {
    if (trimmed(port.name).empty()) refuse({draft.file}, "a port has no name", "give it one");
    if (!seen.insert(port.name).second)
      refuse({draft.file}, "two ports have the name " + quoted_name(port.name),
             "rename one of them");
    check_port(draft, port, nodes);
  }
}

void check_reference(const CircuitDraft& draft) {
  const auto nodes = node_names(draft);
  if (nodes.contains(draft.reference)) return;
  const auto nearest = nearest_word(draft.reference, {nodes.begin(), nodes.end()});
  refuse({draft.file}, "no part is on the reference node " + quoted_name(draft.reference),
         nearest ? "did you mean " + quoted_name(*nearest) + "?" : "name a node that a part has");
}

}  // namespace

Circuit::Circuit(CircuitDraft draft) : draft_(std::move(draft)) {
  if (draft_.parts.empty()) refuse({draft_.file}, "the circuit has no part", "add a [[part]]");
  if (draft_.parts.size() > part_limit)
    refuse({draft_.file}, "the circuit has more than 5000 parts", "split it");
  for (const auto& part : draft_.parts) check_part(draft_, part);
  check_names(draft_);
  check_controls(draft_);
  check_reference(draft_);
  check_ports(draft_);
}

const Port& Circuit::port(std::string_view name) const {
  if (name.empty()) return ports().front();
  std::vector<std::string> names;
  for (const auto& port : ports()) {
    if (port.name == name) return port;
    names.push_back(port.name);
  }
  throw InputError("the circuit has no port " + quoted_name(name),
                   "it has " + printable(listed(names)));
}

ValueIndex Circuit::value_index(std::string_view part, std::string_view key) const {
  for (std::size_t p = 0; p < parts().size(); ++p) {
    if (parts()[p].name != part) continue;
    const auto& values = parts()[p].values;
    for (std::size_t k = 0; k < values.size(); ++k)
      if (values[k].key == key) return {p, k};
    throw InputError("part " + quoted_name(part) + " has no value `" + printable(key, 60) + "`",
                     "give it in the circuit");
  }
  throw InputError("the circuit has no part " + quoted_name(part), "name one that it has");
}

Place Circuit::place(const Part& part) const { return place_in(draft_, part); }

void append(CircuitDraft& draft, const Circuit& circuit, const std::string& prefix,
            const std::map<std::string, std::string>& nodes) {
  for (Part part : circuit.parts()) {
    part.name = prefix + part.name;
    if (!part.control.empty()) part.control = prefix + part.control;
    for (auto& node : part.nodes) {
      const auto known = nodes.find(node);
      if (known != nodes.end())
        node = known->second;
      else
        node = node == circuit.reference() ? draft.reference : prefix + node;
    }
    if (draft.file != circuit.draft().file) part.line = 0;
    draft.parts.push_back(std::move(part));
  }
}

}  // namespace ohmtilt
