#pragma once
#include <vector>

#include <ohmtilt/measure/recording.h>

namespace ohmtilt {

/// Where a signal stands in a recording of the same rate.
struct Alignment {
  double delay_seconds;  ///< the recording's frame 0 is this much before the signal's, or negative
  double likeness;       ///< correlation coefficient at that place, 0 to 1
};

/// By the peak of the cross-correlation at a reduced rate; good to a millisecond or so.
Alignment alignment(const std::vector<float>& signal, const std::vector<float>& recording,
                    double rate_hz);

/// Throws InputError when the two files have different sample rates.
void check_same_rate(const Recording& recording, const Recording& stimulus);
/// Throws InputError when the stimulus does not stand out in the recording.
void check_found(const Alignment& found, const Recording& recording, const Recording& stimulus);

}  // namespace ohmtilt
