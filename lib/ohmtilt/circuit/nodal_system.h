#pragma once
#include <memory>
#include <string>
#include <vector>

#include <ohmtilt/base/array.h>
#include <ohmtilt/circuit/circuit.h>
#include <ohmtilt/circuit/elements.h>

namespace ohmtilt {

/// One right-hand side, the same at every frequency: currents into the nodes (ampere) and voltages
/// of the branches, one an unknown. transposed asks for the adjoint solution (A^T x = b).
struct RightHandSide {
  Eigen::VectorXcd values;
  bool transposed = false;
};

/// One row a frequency, one column an unknown: volt of a node, ampere of a branch.
using Solution = Eigen::ArrayXXcd;

/// What a value of a part becomes.
struct NewValue {
  ValueIndex index;
  double value = 0;
};

/// The nodal equations of a circuit on a set of frequencies. The structure is analysed once; a
/// changed value costs only its part's own numbers. Copies are independent (one a thread); solve()
/// may be called from several threads. Same input, same output to the last bit.
class NodalSystem {
 public:
  /// hz: positive and finite, at least one. Throws InputError as check_solvable does, for a
  /// frequency outside a curve part's data, and for a part whose numbers overflow.
  NodalSystem(const Circuit& circuit, const Array& hz);
  /// Off the frequency axis: at complex frequencies s in rad/s with Im s > 0, for resonances. hz()
  /// is then |s|/2 pi. Throws InputError for a curve part, too.
  static NodalSystem off_axis(const Circuit& circuit, const ComplexArray& s);
  /// Moves a system made by off_axis() to other frequencies, as many as one likes. What was
  /// analysed at the first ones stays, which is most of the work.
  void set_off_axis(const ComplexArray& s);
  ~NodalSystem();
  NodalSystem(const NodalSystem& other);
  NodalSystem(NodalSystem&&) noexcept;
  NodalSystem& operator=(const NodalSystem&) = delete;

  const Array& hz() const;
  const Equations& equations() const;
  /// The parts with the values that hold now.
  const std::vector<Part>& parts() const;
  /// Gives one value of one part of the circuit (not of its expansion). Throws InputError when the
  /// value is not physical, or changes which elementary parts there are (to or from 0).
  void set_value(ValueIndex index, double value);
  /// Several values at once, those of one part next to one another: its numbers are worked out
  /// once.
  void set_values(const std::vector<NewValue>& values);
  /// Factor `term` of the equations (term 0 is the constant 1) at all frequencies.
  ComplexArray term(int term) const;

  /// One Solution a right-hand side. Each is checked: its componentwise backward error (Oettli and
  /// Prager 1964) is below 1e-14 or it is solved again with row pivoting.
  /// Throws InputError naming frequency and node or part where the equations are singular.
  std::vector<Solution> solve(const std::vector<RightHandSide>& sides) const;
  /// Keeps only the wanted unknowns, one column each (zeros for the reference).
  std::vector<Solution> solve(const std::vector<RightHandSide>& sides,
                              const std::vector<Unknown>& wanted) const;
  Solution solve(const RightHandSide& side) const;

 private:
  struct State;
  NodalSystem(const Circuit& circuit, std::unique_ptr<State> state);
  std::unique_ptr<State> state_;
};

/// Right-hand sides of the usual questions.
/// 1 A into the port's plus node and out of its minus node.
RightHandSide port_current(const Equations& equations, const Port& port, bool transposed = false);
/// What the circuit's own sources give (rms phasors).
RightHandSide own_sources(const Equations& equations, const std::vector<Part>& parts);
/// Volt or ampere (rms) of a voltage-source or current-source, with its phase.
Complex source_phasor(const Part& source);
/// v(plus) - v(minus) of a solution.
ComplexArray port_volt(const Equations& equations, const Port& port, const Solution& solution);
/// The unknown's column; zeros for the reference.
ComplexArray unknown_of(const Solution& solution, Unknown unknown);

}  // namespace ohmtilt
