#include <ohmtilt/base/decibel.h>
#include <ohmtilt/chain/volume_law.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>

#include <algorithm>

namespace ohmtilt {
namespace {

void check_travel(double travel_percent, double low, double high) {
  if (!(travel_percent >= low && travel_percent <= high))
    throw InputError("a volume control has no travel of " + number_text(travel_percent) + " %",
                     "give one from " + number_text(low) + " to " + number_text(high) + " %");
}

/// Straight lines between the table's rows.
double in_table(const VolumeTable& table, const Array& column, double travel_percent) {
  const Array& travel = table.travel_percent;
  check_travel(travel_percent, travel[0], travel[travel.size() - 1]);
  const double* above =
      std::upper_bound(travel.data(), travel.data() + travel.size() - 1, travel_percent);
  const Eigen::Index right = std::max<Eigen::Index>(above - travel.data(), 1);
  const Eigen::Index left = right - 1;
  const double part = (travel_percent - travel[left]) / (travel[right] - travel[left]);
  return column[left] + part * (column[right] - column[left]);
}

}  // namespace

std::string_view law_name(const VolumeLaw& law) {
  constexpr std::string_view names[] = {"audio-taper", "linear-taper", "decibel", "table"};
  return names[law.index()];
}

double track_fraction(AudioTaper, double travel_percent) {
  check_travel(travel_percent, 0, 100);
  const double travel = travel_percent / 100;
  return travel <= 0.5 ? 0.3 * travel : 0.15 + (travel - 0.5) * 1.7;
}

double track_fraction(LinearTaper, double travel_percent) {
  check_travel(travel_percent, 0, 100);
  return travel_percent / 100;
}

double volume_gain_db(const VolumeLaw& law, double travel_percent) {
  if (const auto* audio = std::get_if<AudioTaper>(&law))
    return db_from_amplitude(track_fraction(*audio, travel_percent));
  if (const auto* linear = std::get_if<LinearTaper>(&law))
    return db_from_amplitude(track_fraction(*linear, travel_percent));
  if (const auto* table = std::get_if<VolumeTable>(&law))
    return in_table(*table, table->gain_db, travel_percent);
  throw InputError("a control in decibel steps has no travel", "ask for its gain in decibels");
}

double volume_imbalance_db(const VolumeLaw& law, double travel_percent) {
  const auto* table = std::get_if<VolumeTable>(&law);
  return table == nullptr ? 0 : in_table(*table, table->imbalance_db, travel_percent);
}

}  // namespace ohmtilt
