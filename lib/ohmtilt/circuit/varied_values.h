#pragma once
#include <vector>

#include <ohmtilt/circuit/circuit.h>

namespace ohmtilt {

/// One value that is known only within a tolerance.
struct VariedValue {
  ValueIndex index;
  double nominal = 0;
  double tolerance = 0;  ///< relative: 0.01 for 1 %
  /// The value for deviate -1 (the lower end) to 1 (the upper one).
  double at(double deviate) const;
  bool is_squared = false;  ///< the tolerance is that of the value's square
};

/// A circuit with its values that have a tolerance, each independent of the others.
struct VariedCircuit {
  Circuit circuit;
  std::vector<VariedValue> values;
};

/// The values that the tolerance_percent of two-terminal parts covers: ohm, henry, farad, k, volt
/// and ampere, and all figures of drivers, each for itself; not exponents and phases, and not
/// values of 0. A measured curve varies as a whole, by an ideal transformer put before it.
VariedCircuit varied_circuit(const Circuit& circuit);

/// True when no part's impedance depends on frequency.
bool is_resistive(const Circuit& circuit);

}  // namespace ohmtilt
