#pragma once
#include <string>
#include <vector>

#include <ohmtilt/base/array.h>
#include <plots/figure.h>
#include <plots/panel.h>

namespace ohmtilt::plots {

/// What a measured curve is held against: a fitted circuit, or its own minimum phase.
struct ComparedCurve {
  std::string label;
  Array magnitude_ohm, phase_deg;  ///< either may be empty
};

/// A place on the curve, and what it is.
struct MarkedPlace {
  double hz = 0, ohm = 0;
  std::string text;
};

struct ResidualCurve {
  std::string label;
  Array percent;
};

/// |Z| (log) of a curve with marks, its phase, and what is left over below, on one frequency axis.
struct CurveFigure {
  std::string conclusion;   ///< the figure's title
  std::string curve_title;  ///< from a file: drawn as it stands
  std::string caption;
  Array frequency_hz;
  Array magnitude_ohm, phase_deg;  ///< phase_deg is empty for a magnitude-only curve
  /// Where the points are so few that lines between them would be corners: the line to draw in
  /// their place, the points being marked. Both empty: none.
  Array smooth_hz, smooth_ohm;
  ComparedCurve compared;
  std::vector<MarkedPlace> resonances;   ///< the text stands above its mark, where there is room
  std::vector<MarkedPlace> findings;     ///< equal texts are one series, named in the margin
  std::vector<ResidualCurve> residuals;  ///< may be none
};

/// The figure as a value, for tests and reports.
Sheet sheet_of(const CurveFigure& figure);

}  // namespace ohmtilt::plots
