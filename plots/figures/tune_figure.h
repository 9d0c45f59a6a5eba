#pragma once
#include <string>

#include <ohmtilt/base/array.h>
#include <plots/figure.h>
#include <plots/panel.h>

namespace ohmtilt::plots {

/// What tuned values change: the deviation from a reference source and the impedance that the
/// amplifier sees, before and after; and the front of two aims where there is one. Text comes from
/// files and is drawn as it stands.
struct TuneFigure {
  std::string earphone_title, conclusion, caption;
  std::string from_label;
  Array frequency_hz, before_db, after_db, before_ohm, after_ohm;
  Array target_ohm;  ///< NaN where there is none; empty without a target
  /// One value a point of the front, with what their axes say; empty without one.
  Array minimised, traded;
  std::string minimised_label, traded_label;
  double chosen_minimised = 0, chosen_traded = 0;  ///< the point that was taken
};

/// The figure as a value, for tests and reports.
Sheet sheet_of(const TuneFigure& figure);

}  // namespace ohmtilt::plots
