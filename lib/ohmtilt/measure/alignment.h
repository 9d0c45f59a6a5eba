#pragma once
#include <vector>

namespace ohmtilt {

/// Where a signal stands in a recording of the same rate.
struct Alignment {
  double delay_seconds;  ///< the recording's frame 0 is this much before the signal's, or negative
  double likeness;       ///< correlation coefficient at that place, 0 to 1
};

/// By the peak of the cross-correlation at a reduced rate; good to a millisecond or so.
Alignment alignment(const std::vector<float>& signal, const std::vector<float>& recording,
                    double rate_hz);

}  // namespace ohmtilt
