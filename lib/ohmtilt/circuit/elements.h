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

/// Modified nodal analysis [Ho1975]: node voltages, and the currents of
/// voltage sources, transformers, coupled inductors and every two-terminal part that falls below
/// 100 ohm somewhere on hz: as an admittance it would drown the small ones at its nodes.
/// Throws InputError as check_solvable does, or when there are more than 1000 unknowns.
Equations equations_of(const Circuit& circuit, const Array& hz);

/// The element's frequency-dependent factors at hz, one array a term: of a two-terminal part its
/// impedance when its current is an unknown (by_branch), or its admittance; j w L1, j w L2, j w M
/// of coupled inductors; the factors of a two-port's rows (v and i at its ports) in the order of
/// the comment in elements.cpp; the real factor of the others; nothing for sources.
std::vector<ComplexArray> terms_of(const Part& elementary, bool by_branch, const Array& hz);
/// The same at complex frequencies s in rad/s, Im s > 0: k s^n and a loss tangent continued from
/// the imaginary axis. Throws InputError for a curve or a two-port, known on that axis only.
std::vector<ComplexArray> terms_off_axis(const Part& elementary, bool by_branch,
                                         const ComplexArray& s);

/// A part that the solver takes as one impedance.
bool is_impedance(PartKind kind);
bool is_zero_ohm(const Part& elementary);

}  // namespace ohmtilt
