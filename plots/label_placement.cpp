#include <plots/label_placement.h>

#include <algorithm>
#include <numeric>

namespace ohmtilt::plots {
namespace {

/// Labels that touch move together: their mean shift.
struct Block {
  double sum = 0;
  double count = 0;
  double mean() const { return sum / count; }
};

/// The rising values closest to these in least squares (pool adjacent violators: [Ayer1955]).
std::vector<double> rising(const std::vector<double>& values) {
  std::vector<Block> blocks;
  for (const double value : values) {
    blocks.push_back({value, 1});
    while (blocks.size() > 1 && blocks[blocks.size() - 2].mean() >= blocks.back().mean()) {
      const Block last = blocks.back();
      blocks.pop_back();
      blocks.back().sum += last.sum;
      blocks.back().count += last.count;
    }
  }
  std::vector<double> result;
  for (const Block& block : blocks)
    result.insert(result.end(), static_cast<std::size_t>(block.count), block.mean());
  return result;
}

}  // namespace

std::vector<double> spread(const std::vector<double>& wanted, double gap, double low, double high) {
  const std::size_t count = wanted.size();
  if (count == 0) return {};
  const double places = static_cast<double>(count - 1);
  if (places * gap > high - low) gap = places > 0 ? (high - low) / places : 0;
  std::vector<std::size_t> order(count);
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(),
                   [&](auto a, auto b) { return wanted[a] < wanted[b]; });
  std::vector<double> shifts;
  for (std::size_t i = 0; i < count; ++i)
    shifts.push_back(wanted[order[i]] - static_cast<double>(i) * gap);
  shifts = rising(shifts);
  std::vector<double> heights(count);
  for (std::size_t i = 0; i < count; ++i)
    heights[order[i]] =
        std::clamp(shifts[i], low, high - places * gap) + static_cast<double>(i) * gap;
  return heights;
}

}  // namespace ohmtilt::plots
