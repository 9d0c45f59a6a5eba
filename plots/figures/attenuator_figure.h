#pragma once
#include <string>

#include <ohmtilt/base/array.h>
#include <plots/figure.h>
#include <plots/panel.h>

namespace ohmtilt::plots {

/// A switched attenuator: output impedance above, span of the deviation below, over the attenuation
/// of each step. Text comes from files and is drawn as it stands.
struct AttenuatorFigure {
  std::string earphone_title, conclusion, caption;
  Array attenuation_db, output_ohm, span_db;  ///< one value a step, attenuation rising
};

/// The figure as a value, for tests and reports.
Sheet sheet_of(const AttenuatorFigure& figure);

}  // namespace ohmtilt::plots
