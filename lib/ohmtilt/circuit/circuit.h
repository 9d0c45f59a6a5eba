#pragma once
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include <ohmtilt/circuit/part.h>
#include <ohmtilt/text/error.h>

namespace ohmtilt {

struct Port {
  std::string name;
  std::string plus, minus;  ///< nodes
};

/// What a circuit is made of, before it has been checked.
struct CircuitDraft {
  std::string title;
  std::string reference;    ///< the node of zero volt
  std::vector<Port> ports;  ///< the first one is the default
  std::vector<Part> parts;
  std::string file;  ///< for messages; empty for a circuit made in memory
};

/// Value k of part p, as an index pair.
struct ValueIndex {
  std::size_t part = 0;
  std::size_t value = 0;
};

/// A linear circuit. An immutable value; every name, node count and value of it is sound.
/// (Whether it can be solved, on its own, is checked by check_solvable: a stage whose ports are
/// still open is a circuit too.)
class Circuit {
 public:
  /// Throws InputError naming the part, and its line where there is one: duplicate or empty name,
  /// wrong number of nodes, both ends on one node, missing, unknown, non-finite or non-physical
  /// value, unknown control, port on an unknown node, no port, too many nodes.
  explicit Circuit(CircuitDraft draft);

  const CircuitDraft& draft() const { return draft_; }
  const std::string& title() const { return draft_.title; }
  const std::string& reference() const { return draft_.reference; }
  const std::vector<Port>& ports() const { return draft_.ports; }
  const std::vector<Part>& parts() const { return draft_.parts; }
  /// The port of that name; the default port for an empty name. Throws InputError naming the ports.
  const Port& port(std::string_view name = {}) const;
  /// Throws InputError when there is no such part or value.
  ValueIndex value_index(std::string_view part, std::string_view key) const;
  /// Where the part stands in the file.
  Place place(const Part& part) const;

 private:
  CircuitDraft draft_;
};

/// The elementary parts of one part: itself, or what a driver stands for, with printable names
/// ("woofer.dc", "woofer.resonance 1 R"); inner nodes are named alike. Values must be sound.
std::vector<Part> expanded(const Part& part);
/// The circuit with every driver replaced by elementary parts; the same at its ports.
Circuit expanded(const Circuit& circuit);

/// Adds the parts of circuit to draft. Each part's name gets the prefix; each node that nodes lists
/// gets that name, the reference of circuit becomes draft.reference, the others get the prefix.
void append(CircuitDraft& draft, const Circuit& circuit, const std::string& prefix,
            const std::map<std::string, std::string>& nodes);

/// Finds what makes a circuit unsolvable before it is solved; throws InputError naming part or
/// node: a node without a path to the reference, a cut set of current sources, a loop of voltage
/// sources (parts of zero ohm and transformer windings included), a node that bears the name of one
/// within a driver.
void check_solvable(const Circuit& circuit);

}  // namespace ohmtilt
