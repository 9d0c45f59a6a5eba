#pragma once
#include <string>

#include <ohmtilt/base/array.h>
#include <plots/figure.h>
#include <plots/panel.h>

namespace ohmtilt::plots {

/// The level at which each limit would end a tone, over frequency: the lowest line rules. With the
/// peaks that the target needs.
struct HeadroomFigure {
  std::string title;  ///< the conclusion
  std::string subtitle, caption;
  Array frequency_hz;
  Array voltage_db, current_db, earphone_db;  ///< infinite where there is no such limit
  std::string against_label;
  Array against_hz, against_db;  ///< largest clean tone of another chain; empty without
  double target_db = 85;
  double peak_db = 105;  ///< target plus crest
};

Sheet headroom_sheet(const HeadroomFigure& figure);
void draw(const HeadroomFigure& figure, const Output& output);

}  // namespace ohmtilt::plots
