#include <ohmtilt/design/pareto_front.h>

#include <algorithm>
#include <numeric>

namespace ohmtilt {

bool dominates(const Costs& a, const Costs& b) {
  return a[0] <= b[0] && a[1] <= b[1] && a[2] <= b[2] && a[3] <= b[3] && a != b;
}

std::vector<std::size_t> pareto_front(const std::vector<Costs>& costs) {
  std::vector<std::size_t> order(costs.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  // Whatever dominates comes before what it dominates, so each needs comparing only with the front
  // so far; and whoever has dominated something is likely to do so again, so it moves ahead.
  std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
    return costs[a] < costs[b] || (costs[a] == costs[b] && a < b);
  });
  std::vector<std::size_t> front;
  std::vector<Costs> compared;
  for (const std::size_t index : order) {
    const Costs& one = costs[index];
    const auto better = std::find_if(compared.begin(), compared.end(),
                                     [&](const Costs& other) { return dominates(other, one); });
    if (better == compared.end()) {
      front.push_back(index);
      compared.push_back(one);
    } else if (better != compared.begin()) {
      std::iter_swap(better, compared.begin() + (better - compared.begin()) / 2);
    }
  }
  std::sort(front.begin(), front.end());
  return front;
}

}  // namespace ohmtilt
