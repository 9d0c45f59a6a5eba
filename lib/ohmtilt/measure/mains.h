#pragma once
#include <vector>

#include <ohmtilt/measure/local_fit.h>

namespace ohmtilt {

/// Lines of mains hum (multiples of 50 and 60 Hz up to 1 kHz) at which the ratio of the channels
/// lies five times further from the smooth curve through its neighbours than these do: left out.
/// half_width_bins: how far a line spreads by the window used.
std::vector<double> mains_lines(const PairPower& power, double low_hz, double half_width_bins);

/// true for each bin within half_width_bins of one of the lines.
std::vector<bool> bins_at(const std::vector<double>& lines_hz, const PairPower& power,
                          double half_width_bins);

/// Those of lines_hz that are hum: of 50 or 60 Hz the fundamental stands out, or two harmonics with
/// the second or third among them. A lone line higher up is chance, and is named to nobody.
std::vector<double> hum_among(const std::vector<double>& lines_hz);

}  // namespace ohmtilt
