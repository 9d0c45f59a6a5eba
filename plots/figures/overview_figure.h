#pragma once
#include <string>
#include <vector>

#include <ohmtilt/base/array.h>
#include <plots/figure.h>
#include <plots/panel.h>

namespace ohmtilt::plots {

/// The deviations of many earphones with one source, over frequency: the ones that change most are
/// named, the others are thin lines without a name.
struct OverviewFigure {
  struct Curve {
    std::string label;
    Array frequency_hz, deviation_db;
  };
  std::string title;  ///< the conclusion
  std::string subtitle, caption;
  std::string remark;         ///< "normalised at 1 kHz"
  std::vector<Curve> curves;  ///< at least one; the largest change first
};

inline constexpr std::size_t most_named_curves = 8;

Sheet sheet_of(const OverviewFigure& figure);

}  // namespace ohmtilt::plots
