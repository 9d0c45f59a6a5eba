#pragma once
#include <cstddef>

namespace ohmtilt {

/// Smallest and largest value over a grid.
struct PowerRange {
  double smallest, largest;
};

/// Those of a + r (b + r c), the form that |Z+r|^2 and |1+r/Z|^2 have over a resistance r. count,
/// of each array, is a positive multiple of span_lanes.
PowerRange power_range(const double* a, const double* b, const double* c, std::size_t count,
                       double r);
/// Several chains of minima and maxima side by side, so that any vector width is kept busy.
inline constexpr std::size_t span_lanes = 32;

}  // namespace ohmtilt
