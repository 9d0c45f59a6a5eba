#pragma once
// Step and tone-burst responses from poles and residues.
#include <ohmtilt/base/array.h>
#include <ohmtilt/model/rational_model.h>

namespace ohmtilt {

/// count instants from 0, step_s apart.
struct TimeGrid {
  double step_s = 1e-5;
  Eigen::Index count = 2000;
  Array time_s() const;
};

/// A rectangular-gated sine of 1 V peak that starts at 0: hz, whole cycles.
struct ToneBurst {
  double hz = 1000;
  int cycles = 8;
  double length_s() const { return cycles / hz; }
};

struct BurstResponse {
  Array volt;
  Array envelope_volt;  ///< magnitude of the analytic signal: each pole pair as one turning phasor
};

/// Response to a step of 1 V at time 0, of a voltage ratio without a proportional term:
/// constant + sum residue (e^(pole t) - 1)/pole.
Array step_response(const RationalModel& ratio, const TimeGrid& grid);

/// Response to the burst: the forced sine and each pole's transient, both once more, delayed and
/// with the opposite sign, at the burst's end. A mode at the burst's own frequency takes the limit
/// of the two, so that an undamped one grows with t. Throws InputError unless hz > 0 and cycles
/// >= 1.
BurstResponse burst_response(const RationalModel& ratio, const ToneBurst& burst,
                             const TimeGrid& grid);

}  // namespace ohmtilt
