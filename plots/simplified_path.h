#pragma once
#include <string>

namespace ohmtilt::plots {

/// The data of an SVG path of straight lines from point to point ("M1,2 L3,4 ..."; absolute, as
/// gnuplot writes them) with fewer points and one decimal: no point that is left out is further
/// than tolerance from what is drawn (Douglas and Peucker 1973), before rounding. Any other path,
/// and a short one, is given back as it is, but for its line breaks.
std::string simplified_path(const std::string& data, double tolerance = 0.12);

}  // namespace ohmtilt::plots
