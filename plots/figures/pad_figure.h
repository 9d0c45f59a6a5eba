#pragma once
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/base/array.h>
#include <plots/figure.h>
#include <plots/panel.h>

namespace ohmtilt::plots {

/// Pads of one topology, one value a pad.
struct PadMarks {
  std::string label;
  std::vector<double> output_ohm, milliampere, span_db;
};

/// What no pad of one attenuation escapes: above, the current that the amplifier gives, over output
/// impedance; below, the span of the deviation. Text comes from files and is drawn as it stands.
struct PadFigure {
  std::string earphone_title, conclusion, caption;
  std::string exact_label;  ///< of the line of exact values
  Array exact_output_ohm, exact_milliampere, exact_span_db;
  std::vector<PadMarks> pads;
  double recommended_ohm = 0;               ///< where the recommended pad stands; 0: none
  std::string recommended_label;            ///< "L 18 / 9.1"
  std::optional<double> limit_milliampere;  ///< what the amplifier can give
};

/// The figure as a value, for tests and reports.
Sheet sheet_of(const PadFigure& figure);

}  // namespace ohmtilt::plots
