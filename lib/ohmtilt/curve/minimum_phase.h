#pragma once
#include <vector>

#include <ohmtilt/curve/impedance_curve.h>

namespace ohmtilt {

/// The minimum phase of a magnitude-only curve, and what the missing ends leave open.
struct MinimumPhase {
  Array phase_deg;  ///< best estimate, one a data point, within +-90
  std::vector<Array>
      alternatives_deg;  ///< phases from other admissible continuations beyond the data
};

/// Phase from magnitude (a passive impedance is minimum-phase). Only curve's magnitudes are used.
MinimumPhase minimum_phase(const ImpedanceCurve& curve);

}  // namespace ohmtilt
