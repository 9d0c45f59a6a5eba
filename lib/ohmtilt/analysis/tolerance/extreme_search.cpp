#include <ohmtilt/analysis/tolerance/extreme_search.h>
#include <ohmtilt/base/random.h>

#include <cmath>
#include <mutex>
#include <set>

namespace ohmtilt {
namespace {

constexpr std::size_t most_corner_axes = 14;
constexpr Eigen::Index inside_sets = 1000;
constexpr std::uint64_t inside_seed = 1;
constexpr std::size_t most_patterns = 1000;
constexpr std::size_t most_neighbours = 4000;
constexpr double rounding = 1e-9;

using Corner = std::vector<bool>;

Eigen::MatrixXd deviates_of(const std::set<Corner>& corners, std::size_t axes) {
  Eigen::MatrixXd rows(static_cast<Eigen::Index>(corners.size()), static_cast<Eigen::Index>(axes));
  Eigen::Index row = 0;
  for (const auto& corner : corners) {
    for (std::size_t a = 0; a < axes; ++a)
      rows(row, static_cast<Eigen::Index>(a)) = corner[a] ? 1 : -1;
    ++row;
  }
  return rows;
}

Corner opposite(Corner corner) {
  corner.flip();
  return corner;
}

class ExtremeSearch {
 public:
  ExtremeSearch(const DrawnQuantities& drawn, std::size_t axes, std::size_t quantities,
                Eigen::Index points)
      : drawn_(drawn), axes_(axes), points_(points) {
    const Array high = Array::Constant(points, -INFINITY), low = Array::Constant(points, INFINITY);
    found_.quantities.assign(quantities, {low, high});
    best_.resize(quantities * static_cast<std::size_t>(points) * 2);
  }

  FoundExtremes run() {
    found_.reach.all_corners = axes_ <= most_corner_axes;
    if (found_.reach.all_corners)
      try_sets(Draws::corners(axes_), nullptr);
    else
      search();
    look_inside();
    return std::move(found_);
  }

 private:
  /// What draws reach goes to found_; the corners that reach it to best_, where
  /// they are named.
  bool try_sets(const Draws& draws, const std::vector<Corner>* corners) {
    std::mutex mutex;
    bool further = false;
    drawn_(draws, [&](std::size_t q, Eigen::Index f, const Array& values) {
      Eigen::Index least = 0, most = 0;
      const double low = values.minCoeff(&least), high = values.maxCoeff(&most);
      Extremes& known = found_.quantities[q];
      const double slack = rounding * (std::abs(low) + std::abs(high));
      const bool lower = low<known.lowest[f] - slack, higher = high> known.highest[f] + slack;
      if (corners && lower) best_[place(q, f, false)] = (*corners)[static_cast<std::size_t>(least)];
      if (corners && higher) best_[place(q, f, true)] = (*corners)[static_cast<std::size_t>(most)];
      known.lowest[f] = std::min(known.lowest[f], low);
      known.highest[f] = std::max(known.highest[f], high);
      if (!lower && !higher) return;
      const std::lock_guard lock(mutex);
      further = true;
    });
    return further;
  }

  bool try_corners(const std::set<Corner>& corners) {
    const std::vector<Corner> rows(corners.begin(), corners.end());
    return try_sets(Draws::listed(deviates_of(corners, axes_)), &rows);
  }

  std::size_t place(std::size_t q, Eigen::Index f, bool high) const {
    return (q * static_cast<std::size_t>(points_) + static_cast<std::size_t>(f)) * 2 +
           (high ? 1 : 0);
  }

  /// Which way each axis by itself moves each quantity at each frequency.
  std::set<Corner> patterns() {
    Eigen::MatrixXd rows = Eigen::MatrixXd::Zero(static_cast<Eigen::Index>(2 * axes_),
                                                 static_cast<Eigen::Index>(axes_));
    for (std::size_t a = 0; a < axes_; ++a) {
      const auto column = static_cast<Eigen::Index>(a);
      rows(2 * column, column) = -1;
      rows(2 * column + 1, column) = 1;
    }
    std::vector<Corner> of_place(found_.quantities.size() * static_cast<std::size_t>(points_));
    drawn_(Draws::listed(rows), [&](std::size_t q, Eigen::Index f, const Array& values) {
      Corner corner(axes_);
      for (std::size_t a = 0; a < axes_; ++a) {
        const auto at = static_cast<Eigen::Index>(2 * a);
        corner[a] = values[at + 1] > values[at];
      }
      of_place[q * static_cast<std::size_t>(points_) + static_cast<std::size_t>(f)] = corner;
    });
    std::set<Corner> different;
    for (const auto& corner : of_place) {
      if (different.size() >= most_patterns) break;
      different.insert(corner);
      different.insert(opposite(corner));
    }
    return different;
  }

  void search() {
    try_corners(patterns());
    for (int round = 0; round < 2; ++round) {
      std::set<Corner> neighbours;
      for (const auto& corner : std::set<Corner>(best_.begin(), best_.end()))
        for (std::size_t a = 0; a < corner.size() && neighbours.size() < most_neighbours; ++a) {
          Corner other = corner;
          other[a] = !other[a];
          neighbours.insert(std::move(other));
        }
      if (neighbours.empty() || !try_corners(neighbours)) return;
    }
  }

  void look_inside() {
    Eigen::MatrixXd rows(inside_sets, static_cast<Eigen::Index>(axes_));
    for (Eigen::Index draw = 0; draw < inside_sets; ++draw)
      for (std::size_t a = 0; a < axes_; ++a)
        rows(draw, static_cast<Eigen::Index>(a)) =
            2 * uniform_number({inside_seed, static_cast<std::uint64_t>(draw), a, 0}) - 1;
    found_.reach.inside_further = try_sets(Draws::listed(std::move(rows)), nullptr);
  }

  const DrawnQuantities& drawn_;
  std::size_t axes_;
  Eigen::Index points_;
  FoundExtremes found_;
  std::vector<Corner> best_;
};

}  // namespace

FoundExtremes extremes_over(const DrawnQuantities& drawn, std::size_t axes, std::size_t quantities,
                            Eigen::Index points) {
  return ExtremeSearch(drawn, axes, quantities, points).run();
}

}  // namespace ohmtilt
