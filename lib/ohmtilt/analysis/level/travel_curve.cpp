#include <ohmtilt/analysis/level/travel_curve.h>

#include <cmath>

namespace ohmtilt {
namespace {

constexpr Eigen::Index imbalance_points = 2001;  // 0.05 % of a whole travel

Array travel_points(const VolumeLaw& law) {
  if (const auto* table = std::get_if<VolumeTable>(&law))
    return Array::LinSpaced(imbalance_points, table->travel_percent[0],
                            table->travel_percent[table->travel_percent.size() - 1]);
  return Array::LinSpaced(imbalance_points, 0, 100);
}

}  // namespace

Array travel_over_level(const VolumeLaw& law, const GainPosition& position, double target_db,
                        const Array& level_db) {
  return level_db.unaryExpr([&](double level) {
    return travel_at_gain(law, position.control_db + level - target_db).value_or(NAN);
  });
}

std::vector<TravelRange> imbalanced_travel(const VolumeLaw& law, double over_db) {
  std::vector<TravelRange> ranges;
  if (std::holds_alternative<DecibelSteps>(law)) return ranges;
  bool inside = false;
  for (const double travel : travel_points(law)) {
    const bool over = imbalance_at(law, travel).db > over_db;
    if (over && !inside) ranges.push_back({travel, travel});
    if (over) ranges.back().high_percent = travel;
    inside = over;
  }
  return ranges;
}

}  // namespace ohmtilt
