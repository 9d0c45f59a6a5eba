#include <plots/axis.h>
#include <plots/figures/hiss_figure.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace ohmtilt::plots {
namespace {

/// Levels far below both the threshold and the noise's own peak say nothing and are cut off.
constexpr double shown_below_peak_db = 50;
constexpr double hidden = std::numeric_limits<double>::quiet_NaN();

double lowest_shown(const HissFigure& figure) {
  Limits noise, threshold;
  noise.add(figure.band_db);
  noise.add(figure.against_db);
  threshold.add(figure.threshold_db);
  const double of_noise = noise.empty ? 0 : std::max(noise.low, noise.high - shown_below_peak_db);
  const double lowest = threshold.empty ? of_noise : std::min(of_noise, threshold.low);
  return 5 * std::floor(lowest / 5);
}

}  // namespace

Sheet sheet_of(const HissFigure& figure) {
  Panel panel;
  panel.x =
      frequency_axis({figure.band_low_hz[0], figure.band_high_hz[figure.band_high_hz.size() - 1]});
  panel.height = 1.4;
  panel.heading = "Noise at the ear in third-octaves, dB SPL";
  const double base = lowest_shown(figure);
  Limits limits;
  limits.add(base);
  limits.add(figure.band_db);
  limits.add(figure.threshold_db);
  limits.add(figure.against_db);
  limits.low = base;
  panel.y = level_axis(limits);
  panel.y.low = base;
  std::erase_if(panel.y.ticks, [&](const Tick& tick) { return tick.at < base; });
  panel.bars.push_back(
      {figure.label, figure.band_low_hz, figure.band_high_hz, figure.band_db.max(base), base, 0});
  if (figure.against_db.size() > 0)
    panel.points.push_back({figure.against_label,
                            figure.band_hz,
                            (figure.against_db > base).select(figure.against_db, hidden),
                            {},
                            1});
  panel.lines.push_back({figure.threshold_label, figure.band_hz, figure.threshold_db, ink});
  return {figure.title, figure.subtitle, figure.caption, {panel}};
}

}  // namespace ohmtilt::plots
