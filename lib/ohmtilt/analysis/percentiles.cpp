#include <ohmtilt/analysis/percentiles.h>

#include <algorithm>
#include <cmath>

namespace ohmtilt {

std::vector<OrderPair> order_pairs(Array& values, const std::vector<double>& fractions) {
  double* const end = values.data() + values.size();
  double* from = values.data();  // all before it are in their places
  std::vector<OrderPair> result;
  for (const double fraction : fractions) {
    const double place = static_cast<double>(values.size() - 1) * fraction;
    double* const below = values.data() + static_cast<Eigen::Index>(std::floor(place));
    if (below >= from) {
      std::nth_element(from, below, end);
      from = below;
    }
    double* const above = below + 1;
    const double next = above < end ? *std::min_element(above, end) : *below;
    result.push_back({*below, next, place - std::floor(place)});
  }
  return result;
}

}  // namespace ohmtilt
