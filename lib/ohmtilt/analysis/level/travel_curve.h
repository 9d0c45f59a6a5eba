#pragma once
// The volume control as a figure shows it: its travel over level, and where its channels differ.
#include <vector>

#include <ohmtilt/analysis/level/headroom.h>

namespace ohmtilt {

/// Travel in percent that programme of level_db (dB SPL, peaks at full scale) needs at a gain step
/// that was worked out for programme of target_db. Not a number where no travel brings it.
Array travel_over_level(const VolumeLaw& law, const GainPosition& position, double target_db,
                        const Array& level_db);

/// Parts of the travel, in percent, over which the channels differ by more than over_db
/// (imbalance_at), from the lowest up. None for DecibelSteps, which have no travel.
struct TravelRange {
  double low_percent = 0, high_percent = 0;
};
std::vector<TravelRange> imbalanced_travel(const VolumeLaw& law, double over_db);

}  // namespace ohmtilt
