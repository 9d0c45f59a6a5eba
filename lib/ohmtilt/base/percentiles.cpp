#include <ohmtilt/base/percentiles.h>

#include <algorithm>
#include <cmath>
#include <numeric>

namespace ohmtilt {

Ranks::Ranks(const Array& values) : rank_(static_cast<std::size_t>(values.size())) {
  std::vector<int> order(rank_.size());
  std::iota(order.begin(), order.end(), 0);
  std::sort(order.begin(), order.end(),
            [&](int a, int b) { return values[a] != values[b] ? values[a] < values[b] : a < b; });
  for (std::size_t i = 0; i < order.size(); ++i)
    rank_[static_cast<std::size_t>(order[i])] = static_cast<int>(i);
}

Array Ranks::arranged(const Array& values) const {
  Array result(values.size());
  for (std::size_t i = 0; i < rank_.size(); ++i)
    result[rank_[i]] = values[static_cast<Eigen::Index>(i)];
  return result;
}

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
    const double next =
        above < end ? Eigen::Map<const Array>(above, end - above).minCoeff() : *below;
    result.push_back({*below, next, place - std::floor(place)});
  }
  return result;
}

double percentile(Array values, double fraction) {
  return order_pairs(values, {fraction}).front().interpolated();
}

}  // namespace ohmtilt
