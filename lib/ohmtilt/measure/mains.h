#pragma once
#include <vector>

#include <ohmtilt/measure/local_fit.h>

namespace ohmtilt {

/// Lines of mains hum (multiples of 50 and 60 Hz up to 1 kHz) at which the ratio of the channels
/// lies five times further from the smooth curve through its neighbours than these do; a
/// fundamental that stands out, or two harmonics with the second or third among them, make it hum.
/// half_width_bins: how far a line spreads by the window used.
std::vector<double> mains_lines(const PairPower& power, double low_hz, double half_width_bins);

/// true for each bin within half_width_bins of one of the lines.
std::vector<bool> bins_at(const std::vector<double>& lines_hz, const PairPower& power,
                          double half_width_bins);

}  // namespace ohmtilt
