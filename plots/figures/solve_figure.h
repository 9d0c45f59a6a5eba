#pragma once
#include <string>
#include <vector>

#include <ohmtilt/base/array.h>
#include <plots/figure.h>
#include <plots/frequency_panel.h>
#include <plots/panel.h>

namespace ohmtilt::plots {

/// The voltage of a port over frequency.
struct TransferCurve {
  std::string label;
  Array magnitude_db;                  ///< a value that is not finite is a gap
  Array band_lower_db, band_upper_db;  ///< both empty, or a light band behind the line
};

/// |Z| (log) of a port, its phase, and what reaches the other ports, on one frequency axis.
struct SolveFigure {
  std::string conclusion;     ///< the figure's title
  std::string circuit_title;  ///< from a file: drawn as it stands
  std::string caption;
  Array frequency_hz;
  Array magnitude_ohm, phase_deg;
  Array band_lower_ohm, band_upper_ohm;  ///< of tolerances; both empty without
  std::vector<TransferCurve> transfers;  ///< may be none
  std::string transfer_heading = "Transfer, dB";
  /// What 1 % more of single values changes of |Z|, in per cent; empty: no panel of it.
  std::vector<ChangeCurve> changes;
};

/// The figure as a value, for tests and reports.
Sheet sheet_of(const SolveFigure& figure);

}  // namespace ohmtilt::plots
