#pragma once
#include <ohmtilt/curve/impedance_curve.h>
#include <vector>

namespace ohmtilt {

/// The minimum phase of a magnitude-only curve, and what the missing ends leave open.
struct MinimumPhase {
  Array phase_deg;  ///< best estimate, one a data point, within +-90
  /// Phases from other continuations beyond the data, each within +-90: at either end, those as
  /// much steeper and shallower than the best as the most different admissible one is. Their
  /// spread is the phase's own uncertainty; four of them.
  std::vector<Array> alternatives_deg;
};

/// Whether magnitudes over this range are enough for minimum_phase().
bool has_minimum_phase(const Band& range);

/// Phase from magnitude (a passive impedance is minimum-phase), by Bode's gain-phase integral over
/// the data and over the continuations of continuation.h. Only curve's magnitudes are used; their
/// scale does not matter. Throws InputError for data over less than a seventh of an octave.
MinimumPhase minimum_phase(const ImpedanceCurve& curve);

/// The same for magnitudes of a ratio such as Z/(Z + R), whose inverse is of minimum phase too:
/// continued by what falls outward (continued_ratio of extrapolation.h). The alternatives are then
/// one standard uncertainty away, which holds 0.4 of what the rising continuation would change
/// (from trials on invented earphones) and half a degree at an end for coils that a flat magnitude
/// hides.
MinimumPhase minimum_phase_of_ratio(const ImpedanceCurve& ratio);

}  // namespace ohmtilt
