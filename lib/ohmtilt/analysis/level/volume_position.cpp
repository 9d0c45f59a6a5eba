#include <ohmtilt/analysis/level/volume_position.h>
#include <algorithm>
#include <array>
#include <boost/math/tools/roots.hpp>

namespace ohmtilt {
namespace {

constexpr double softest_travel_percent = 1e-9;

/// Where the law, which is monotone from low to high, has that gain.
std::optional<double> travel_between(const VolumeLaw& law, double gain_db, double low,
                                     double high) {
  const auto excess = [&](double travel) { return volume_gain_db(law, travel) - gain_db; };
  const double at_low = excess(low);
  const double at_high = excess(high);
  if (at_low == 0) return low;
  if (at_high == 0) return high;
  if (at_low * at_high > 0) return std::nullopt;
  std::uintmax_t steps = 200;
  const auto [a, b] = boost::math::tools::toms748_solve(
      excess, low, high, at_low, at_high, boost::math::tools::eps_tolerance<double>(48), steps);
  return a + (b - a) / 2;
}

std::optional<double> travel_in_table(const VolumeTable& table, double gain_db) {
  for (Eigen::Index i = 0; i + 1 < table.travel_percent.size(); ++i)
    if (const auto travel =
            travel_between(table, gain_db, table.travel_percent[i], table.travel_percent[i + 1]))
      return travel;
  return std::nullopt;
}

}  // namespace

std::optional<double> travel_at_gain(const VolumeLaw& law, double gain_db) {
  if (std::holds_alternative<DecibelSteps>(law)) return std::nullopt;
  if (const auto* table = std::get_if<VolumeTable>(&law)) return travel_in_table(*table, gain_db);
  return travel_between(law, gain_db, softest_travel_percent, 100);
}

double usual_imbalance_db(double gain_db) {
  struct Row {
    double gain_db, imbalance_db;
  };
  constexpr std::array<Row, 4> rows{{{-60, 4}, {-40, 2}, {-20, 1}, {0, 0.2}}};
  const double gain = std::clamp(gain_db, rows.front().gain_db, rows.back().gain_db);
  const auto above =
      std::find_if(rows.begin() + 1, rows.end(), [&](const Row& r) { return r.gain_db >= gain; });
  const Row& below = *(above - 1);
  const double part = (gain - below.gain_db) / (above->gain_db - below.gain_db);
  return below.imbalance_db + part * (above->imbalance_db - below.imbalance_db);
}

Imbalance imbalance_at(const VolumeLaw& law, double travel_percent) {
  const auto* table = std::get_if<VolumeTable>(&law);
  if (table != nullptr && (table->imbalance_db != 0).any())
    return {volume_imbalance_db(law, travel_percent), true};
  return {usual_imbalance_db(volume_gain_db(law, travel_percent)), false};
}

}  // namespace ohmtilt
