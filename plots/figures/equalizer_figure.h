#pragma once
#include <string>

#include <ohmtilt/base/array.h>
#include <plots/figure.h>
#include <plots/panel.h>

namespace ohmtilt::plots {

/// Deviation and correction above, what is left of them below. All curves in dB, less their mean.
/// Text comes from files and is drawn as it stands.
struct EqualizerFigure {
  std::string earphone_title;
  std::string conclusion;  ///< the figure's title
  std::string caption;     ///< sources, sample rate, level reduction, one short line
  Array frequency_hz, deviation_db, correction_db, residual_db;
  Array filter_hz;        ///< where the filters stand; may be empty
  Array fir_residual_db;  ///< empty without a FIR
};

/// The figure as a value, for tests and reports.
Sheet sheet_of(const EqualizerFigure& figure);

}  // namespace ohmtilt::plots
