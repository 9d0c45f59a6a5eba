#pragma once
#include <ohmtilt/curve/impedance_curve.h>
#include <vector>

namespace ohmtilt {

/// The minimum phase of a magnitude-only curve, and what the missing ends leave open.
struct MinimumPhase {
  Array phase_deg;  ///< best estimate, one a data point, within +-90
  /// Phases from other admissible continuations beyond the data, each within +-90: the steepest
  /// and the shallowest at either end. Their spread is the phase's own uncertainty.
  std::vector<Array> alternatives_deg;
};

/// Phase from magnitude (a passive impedance is minimum-phase), by Bode's gain-phase integral over
/// the data and over the continuations of continuation.h. Only curve's magnitudes are used; their
/// scale does not matter.
MinimumPhase minimum_phase(const ImpedanceCurve& curve);

}  // namespace ohmtilt
