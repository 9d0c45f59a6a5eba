#pragma once
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/base/array.h>
#include <plots/figure.h>
#include <plots/panel.h>

namespace ohmtilt::plots {

/// Where the volume control stands for programme of each level.
struct TravelCurve {
  std::string label;
  Array level_db, travel_percent;
};

/// A part of the travel over which the channels differ by more than over_db.
struct ImbalancedPart {
  double low_percent = 0, high_percent = 0;
  double over_db = 1;
};

/// The level at which each limit would end a tone, over frequency: the lowest line limits. With the
/// peaks that the target needs; and the volume control's travel over level.
struct HeadroomFigure {
  std::string title;  ///< the conclusion
  std::string subtitle, caption;
  Array frequency_hz;
  Array voltage_db, current_db, earphone_db;  ///< infinite where there is no such limit
  std::string against_label;
  Array against_hz, against_db;  ///< largest clean tone of another chain; empty without
  double target_db = 85;
  double peak_db = 105;             ///< target plus crest
  std::vector<TravelCurve> travel;  ///< a gain step each; empty without a control that has travel
  std::optional<TravelCurve> travel_before;  ///< of what it is compared with
  std::vector<ImbalancedPart> imbalance;     ///< the larger difference after the smaller one
};

Panel limits_panel(const HeadroomFigure& figure);
/// Nothing without travel.
std::optional<Panel> travel_panel(const HeadroomFigure& figure);
Sheet sheet_of(const HeadroomFigure& figure);

}  // namespace ohmtilt::plots
