#pragma once
// The nodal equations of one circuit as lists of positions, without any numbers in them.
#include <string>
#include <vector>

#include <ohmtilt/base/array.h>
#include <ohmtilt/circuit/circuit.h>

namespace ohmtilt {

/// A node (or the reference, -1) or branch current as a place in the vector of unknowns.
using Unknown = int;
inline constexpr Unknown reference_node = -1;

/// matrix(row, column) += sign * terms[term].
struct Stamp {
  Unknown row, column;
  int term;
  double sign;
};

/// One elementary part in the equations.
struct Element {
  std::size_t part = 0;  ///< of the circuit as given; a driver has several elements
  PartKind kind = PartKind::resistor;
  bool by_branch = false;  ///< its current is an unknown of its own
  Unknown nodes[4] = {-1, -1, -1, -1};
  Unknown branch = -1, second_branch = -1, control_branch = -1;
  int first_term = -1, terms = 0;  ///< its frequency-dependent factors
  std::string name;
};

/// The whole structure: analysed once, whatever the values.
struct Equations {
  std::vector<std::string> unknown_names;  ///< "node \"a\"", "the current of \"V1\""
  std::vector<std::string> node_names;     ///< of the unknowns 0 .. node count - 1
  std::vector<Element> elements;
  std::vector<Stamp> stamps;
  int terms = 1;  ///< term 0 is the constant 1
  int size() const { return static_cast<int>(unknown_names.size()); }
  Unknown node(const std::string& name) const;  ///< throws InputError for an unknown name
  std::string reference;
};

/// Modified nodal analysis (Ho, Ruehli and Brennan 1975): node voltages, and the currents of
/// voltage sources, transformers, coupled inductors and parts of zero ohm.
/// Throws InputError as check_solvable does, or when there are more than 500 unknowns.
Equations equations_of(const Circuit& circuit);

/// The element's frequency-dependent factors at hz, one array a term: the admittance of a
/// two-terminal part; j w L1, j w L2, j w M of coupled inductors; the real factor of the others.
std::vector<ComplexArray> terms_of(const Part& elementary, const Array& hz);

/// How many terms_of gives; 0 for sources and parts of zero ohm.
int term_count(const Part& elementary);
bool is_zero_ohm(const Part& elementary);

}  // namespace ohmtilt
