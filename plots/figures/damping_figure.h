#pragma once
#include <string>
#include <vector>

#include <ohmtilt/base/array.h>
#include <plots/figure.h>
#include <plots/panel.h>

namespace ohmtilt::plots {

/// One mode over the source resistances of the figure; a value that is not finite is a gap.
struct DampedModeCurve {
  std::string label;       ///< "bass, 210 Hz"
  Array q;                 ///< one a resistance
  Array decay_per_second;  ///< -Re s
  Array oscillation_hz;    ///< Im s / 2 pi; not finite where the mode does not oscillate
  /// The same at the sources of the figure, for marks on the locus; one a source.
  Array source_decay_per_second, source_oscillation_hz;
};

/// A source that is compared. ohm is where it is marked; 0 stands at the left edge.
struct DampedSource {
  std::string label;
  double ohm = 0;
  Array envelope_volt;  ///< at time_ms
};

/// Q of each mode over source resistance, the paths of the modes in the plane of decay and
/// oscillation, and how a tone burst ends behind each source.
struct DampingFigure {
  std::string earphone_title;
  std::string conclusion;  ///< the figure's title, from the analysis
  std::string caption;
  Array source_ohm;  ///< rising, positive
  std::vector<DampedModeCurve> modes;
  std::vector<DampedSource> sources;  ///< the first one is compared with
  Array time_ms;
  double burst_end_ms = 0;
  std::string burst_heading;  ///< "Burst of 8 cycles at 210 Hz, bass, dB"
};

/// The figure as a value, for tests and reports.
Sheet sheet_of(const DampingFigure& figure);

}  // namespace ohmtilt::plots
