#pragma once
#include <string>

#include <ohmtilt/base/array.h>
#include <plots/figure.h>
#include <plots/panel.h>

namespace ohmtilt::plots {

/// Separation of the channels over the earphone's impedance, on one frequency axis.
struct CrosstalkFigure {
  std::string title;  ///< the conclusion
  std::string subtitle, caption, label;
  Array frequency_hz, separation_db;  ///< infinite where there is no crosstalk
  Array four_wire_db;                 ///< to compare with; empty or infinite without
  std::string against_label;
  Array against_hz, against_db;          ///< of another chain; empty or infinite without
  std::string nothing = "no crosstalk";  ///< said where there is no line
  Array magnitude_ohm;                   ///< of the earphone
};

Sheet sheet_of(const CrosstalkFigure& figure);

}  // namespace ohmtilt::plots
