#include <ohmtilt/circuit/circuit.h>
#include <ohmtilt/circuit/elements.h>
#include <ohmtilt/circuit/part_rules.h>
#include <ohmtilt/circuit/quoted_name.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
#include <map>
#include <numeric>
#include <stdexcept>
#include <string>
#include <utility>

namespace ohmtilt {
namespace {

// Which nodes hang together (disjoint sets, by halving of paths).
class Islands {
 public:
  explicit Islands(std::size_t nodes) : above_(nodes) {
    std::iota(above_.begin(), above_.end(), std::size_t{0});
  }
  std::size_t root(std::size_t node) {
    while (above_[node] != node) node = above_[node] = above_[above_[node]];
    return node;
  }
  bool joined(std::size_t a, std::size_t b) { return root(a) == root(b); }
  /// False when they hung together already.
  bool join(std::size_t a, std::size_t b) {
    if (joined(a, b)) return false;
    above_[root(a)] = root(b);
    return true;
  }

 private:
  std::vector<std::size_t> above_;
};

struct Numbered {
  std::vector<std::string> names;
  std::map<std::string, std::size_t> index;
};

Numbered numbered_nodes(const Circuit& circuit) {
  Numbered nodes;
  const auto add = [&](const std::string& name) {
    if (nodes.index.emplace(name, nodes.names.size()).second) nodes.names.push_back(name);
  };
  add(circuit.reference());
  for (const auto& part : circuit.parts())
    for (const auto& node : part.nodes) add(node);
  return nodes;
}

bool is_current_source(const Part& part) {
  const bool own_conductance = part.kind == PartKind::voltage_controlled_current_source &&
                               part.nodes[0] == part.nodes[2] && part.nodes[1] == part.nodes[3];
  return (part.kind == PartKind::current_source ||
          part.kind == PartKind::voltage_controlled_current_source ||
          part.kind == PartKind::current_controlled_current_source) &&
         !own_conductance;
}

bool conducts_at_both_ends(const Part& part) {
  return rule_of(part.kind).nature == PartNature::coupling;
}

bool fixes_voltage(const Part& part) {
  return part.kind == PartKind::voltage_source ||
         part.kind == PartKind::voltage_controlled_voltage_source ||
         part.kind == PartKind::current_controlled_voltage_source || is_zero_ohm(part);
}

[[noreturn]] void refuse(const Circuit& circuit, const Part& part, const std::string& wrong,
                         const std::string& remedy) {
  const Place place = circuit.place(part);
  if (place.file.empty()) throw InputError(wrong, remedy);
  throw InputError(place, wrong, remedy);
}

class Check {
 public:
  explicit Check(const Circuit& circuit) : circuit_(circuit), nodes_(numbered_nodes(circuit)) {}

  void paths_to_reference() const {
    Islands conducting(nodes_.names.size());
    for (const auto& part : circuit_.parts()) {
      if (is_current_source(part)) continue;
      conducting.join(end(part, 0), end(part, 1));
      if (conducts_at_both_ends(part)) conducting.join(end(part, 2), end(part, 3));
    }
    for (std::size_t node = 1; node < nodes_.names.size(); ++node)
      if (!conducting.joined(node, 0)) refuse_island(conducting, node);
  }

  void voltage_loops() const {
    Islands fixed(nodes_.names.size());
    std::vector<const Part*> before;
    for (const auto& part : circuit_.parts()) {
      if (!fixes_voltage(part)) continue;
      if (!fixed.join(end(part, 0), end(part, 1))) refuse_loop(fixed, part, before);
      before.push_back(&part);
    }
    for (const auto& part : circuit_.parts())
      if (part.kind == PartKind::transformer && fixed.joined(end(part, 0), end(part, 1)) &&
          fixed.joined(end(part, 2), end(part, 3)))
        refuse(circuit_, part,
               "both windings of transformer " + quoted_name(part.name) +
                   " lie across voltage sources",
               "put an impedance in series with one of them");
  }

 private:
  std::size_t end(const Part& part, std::size_t which) const {
    return nodes_.index.at(part.nodes[which]);
  }

  [[noreturn]] void refuse_island(Islands& conducting, std::size_t node) const {
    for (const auto& part : circuit_.parts()) {
      if (!is_current_source(part)) continue;
      const bool touches =
          conducting.joined(end(part, 0), node) != conducting.joined(end(part, 1), node);
      if (touches)
        refuse(circuit_, part,
               "node " + quoted_name(nodes_.names[node]) +
                   " is fed by current sources only, among them " + quoted_name(part.name),
               "give the current a path to the reference " + quoted_name(circuit_.reference()));
    }
    for (const auto& part : circuit_.parts())
      for (const auto& name : part.nodes)
        if (name == nodes_.names[node])
          refuse(circuit_, part,
                 "node " + quoted_name(name) + " has no path to the reference " +
                     quoted_name(circuit_.reference()) + " (part " + quoted_name(part.name) + ")",
                 "connect it, or correct the node's name");
    throw std::logic_error("a node without a part");
  }

  [[noreturn]] void refuse_loop(Islands& fixed, const Part& part,
                                const std::vector<const Part*>& before) const {
    std::vector<std::string> others;
    for (const Part* other : before)
      if (fixed.joined(end(*other, 0), end(part, 0)) && others.size() < 5)
        others.push_back(quoted_name(other->name));
    refuse(circuit_, part,
           "part " + quoted_name(part.name) +
               " closes a loop of voltage sources or zero ohms with " + listed(others),
           "put a resistance into the loop or remove one of them");
  }

  const Circuit& circuit_;
  Numbered nodes_;
};

bool has_node(const Part& part, const std::string& name) {
  return std::find(part.nodes.begin(), part.nodes.end(), name) != part.nodes.end();
}

/// Two nodes of one name would be one node.
void inner_nodes_are_free(const Circuit& circuit) {
  std::map<std::string, const Part*> outer;
  for (const auto& part : circuit.parts())
    for (const auto& node : part.nodes) outer.emplace(node, &part);
  for (const auto& driver : circuit.parts())
    for (const auto& elementary : expanded(driver))
      for (const auto& node : elementary.nodes) {
        const auto taken = outer.find(node);
        if (taken == outer.end() || has_node(driver, node)) continue;
        refuse(circuit, *taken->second,
               "node " + quoted_name(node) + " is also a node within the driver " +
                   quoted_name(driver.name),
               "give the node another name");
      }
}

}  // namespace

void check_solvable(const Circuit& circuit) {
  inner_nodes_are_free(circuit);
  const Circuit elementary = expanded(circuit);
  const Check check(elementary);
  check.paths_to_reference();
  check.voltage_loops();
}

}  // namespace ohmtilt
