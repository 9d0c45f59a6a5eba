#pragma once
#include <string>
#include <vector>

#include <ohmtilt/base/array.h>
#include <plots/figure.h>
#include <plots/frequency_panel.h>
#include <plots/panel.h>

namespace ohmtilt::plots {

/// One line of the deviation panel. Text comes from files and is drawn as it stands.
struct DeviationCurve {
  std::string label;  ///< "6 ohm"
  Array deviation_db;
  Array band_lower_db, band_upper_db;  ///< both empty, or a light band behind the line
};

/// Deviation above, |Z| (log) and phase below on one frequency axis; where a response is given, the
/// response before and after in a panel of their own.
struct DeviationFigure {
  std::string earphone_title;
  std::string conclusion;  ///< the figure's title, from the analysis
  std::string caption;     ///< inputs and anchor, one short line
  std::string from_label;  ///< the source compared with ("0.3 ohm"); empty: "before"
  Array frequency_hz;
  double anchor_low_hz = 0,
         anchor_high_hz = 0;  ///< both 0 without an anchor; equal for one frequency
  std::vector<DeviationCurve> curves;
  std::string band_meaning = "95 %, from the curve";  ///< what the light bands are
  Array magnitude_ohm, phase_deg;                     ///< at frequency_hz
  bool phase_is_minimum = false;                      ///< said in the phase panel's heading
  Array response_before_db;                           ///< empty without a response
  std::vector<Array> response_after_db;               ///< one a curve
  /// What 1 % more of single values changes of the deviation, in dB; empty: no panel of it.
  std::vector<ChangeCurve> changes;
  std::string changes_remark;
};

/// The figure as a value, for tests and reports.
Sheet sheet_of(const DeviationFigure& figure);

}  // namespace ohmtilt::plots
