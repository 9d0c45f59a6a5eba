#include <ohmtilt/analysis/deviation/power_range.h>
#include <ohmtilt/base/simd.h>
#include <algorithm>
#include <array>

namespace ohmtilt {

OHMTILT_WIDE PowerRange power_range(const double* a, const double* b, const double* c,
                                    std::size_t count, double r) {
  std::array<double, span_lanes> smallest;
  std::array<double, span_lanes> largest;
  for (std::size_t j = 0; j < span_lanes; ++j)
    smallest[j] = largest[j] = a[j] + r * (b[j] + r * c[j]);
  for (std::size_t i = span_lanes; i < count; i += span_lanes) {
    for (std::size_t j = 0; j < span_lanes; ++j) {
      const double value = a[i + j] + r * (b[i + j] + r * c[i + j]);
      smallest[j] = value < smallest[j] ? value : smallest[j];
      largest[j] = value > largest[j] ? value : largest[j];
    }
  }
  return {*std::min_element(smallest.begin(), smallest.end()),
          *std::max_element(largest.begin(), largest.end())};
}

}  // namespace ohmtilt
