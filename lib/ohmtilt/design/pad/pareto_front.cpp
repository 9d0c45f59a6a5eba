#include <ohmtilt/base/simd.h>
#include <ohmtilt/design/pad/pareto_front.h>

#include <algorithm>
#include <limits>
#include <numeric>

namespace ohmtilt {

namespace {

/// The second to fourth costs of a growing set, each in one row, in whole blocks: what is not
/// filled yet is infinite.
class Compared {
 public:
  void add(const Costs& one) {
    if (count_ % block == 0)
      for (auto& row : rows_) row.resize(count_ + block, std::numeric_limits<double>::infinity());
    for (std::size_t k = 0; k < 3; ++k) rows_[k][count_] = one[k + 1];
    ++count_;
  }
  /// True when one of the set is nowhere above the costs. Whoever was is likely to be so again, so
  /// its block moves ahead.
  bool covers(const Costs& one);

 private:
  static constexpr std::size_t block = 64;
  std::size_t count_ = 0;
  std::array<std::vector<double>, 3> rows_;
};

OHMTILT_WIDE int count_covering(const double* second, const double* third, const double* fourth,
                                std::size_t count, const double* costs) {
  int found = 0;
  for (std::size_t i = 0; i < count; ++i)
    found += (second[i] <= costs[1]) & (third[i] <= costs[2]) & (fourth[i] <= costs[3]);
  return found;
}

bool Compared::covers(const Costs& one) {
  for (std::size_t i = 0; i < rows_[0].size(); i += block) {
    if (count_covering(&rows_[0][i], &rows_[1][i], &rows_[2][i], block, one.data()) == 0) continue;
    // Not the last block: that one is still being filled.
    if (i > 0 && i + block < rows_[0].size())
      for (auto& row : rows_) {
        const auto at = row.begin() + static_cast<std::ptrdiff_t>(i);
        std::swap_ranges(at, at + block, at - block);
      }
    return true;
  }
  return false;
}

}  // namespace

std::vector<std::size_t> pareto_front(const std::vector<Costs>& costs) {
  std::vector<std::size_t> order(costs.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  // Whatever dominates comes before what it dominates, so each needs comparing only with the front
  // so far, which is nowhere above it in the first cost; equal ones share their fate.
  std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
    return costs[a] < costs[b] || (costs[a] == costs[b] && a < b);
  });
  std::vector<std::size_t> front;
  Compared compared;
  for (std::size_t i = 0; i < order.size(); ++i) {
    const Costs& one = costs[order[i]];
    const bool as_before = i > 0 && costs[order[i - 1]] == one;
    if (as_before) {
      if (!front.empty() && front.back() == order[i - 1]) front.push_back(order[i]);
    } else if (!compared.covers(one)) {
      front.push_back(order[i]);
      compared.add(one);
    }
  }
  std::sort(front.begin(), front.end());
  return front;
}

}  // namespace ohmtilt
