#pragma once
#include <string>
#include <vector>

#include <plots/figure.h>
#include <plots/panel.h>

namespace ohmtilt::plots {

/// One earphone: a value a source; one that is not finite is drawn as an empty cell.
struct SurveyedEarphone {
  std::string title;
  std::vector<double> value;
  std::string largest_source;  ///< in words, short: "2.8", "any", "none"
};

/// Earphones against sources as a heat map with its numbers: dark is much. Beside it, the largest
/// source that each earphone bears. Text comes from files and is drawn as it stands.
struct SurveyFigure {
  std::string conclusion, subtitle, caption;
  std::string heading;  ///< "Span of the deviation, dB"
  std::string limit;    ///< "1 dB", which the largest sources keep; empty: they are not shown
  std::vector<std::string> sources;         ///< short names, one a column
  std::vector<bool> kept;                   ///< as shown_columns() takes it; empty: none
  std::vector<SurveyedEarphone> earphones;  ///< from top to bottom
  int decimals = 1;
  bool with_sign = false;    ///< "+2.1" for 2.1
  double least_darkest = 3;  ///< a value of which is the darkest shade where none is larger
};

/// Which columns to show where no more than most have room: all; or first those that are kept (what
/// has a name of its own), then an even choice of the others with both ends. most >= 2.
std::vector<std::size_t> shown_columns(const std::vector<bool>& kept, std::size_t most);

/// The figure as a value, for tests and reports. Where there are more than 40 earphones the first
/// 40 are drawn, where there are more than 12 sources the shown_columns(); the caption says so.
Sheet sheet_of(const SurveyFigure& figure);

}  // namespace ohmtilt::plots
