#pragma once
#include <string>
#include <vector>

#include <ohmtilt/base/array.h>
#include <plots/figure.h>
#include <plots/panel.h>

namespace ohmtilt::plots {

/// Noise at the ear in third-octaves as bars, with the threshold of hearing as a line over them.
struct HissFigure {
  std::string title;  ///< the conclusion
  std::string subtitle, caption;
  Array band_low_hz, band_high_hz;  ///< edges
  Array band_hz, band_db;           ///< NaN where not known
  Array threshold_db;               ///< NaN where not known
  std::string threshold_label;      ///< "threshold of hearing"
  std::string label;                ///< of the bars
  Array against_db;                 ///< another chain's, as marks; empty without
  std::string against_label;
};

Sheet sheet_of(const HissFigure& figure);

}  // namespace ohmtilt::plots
