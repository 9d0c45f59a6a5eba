#include <ohmtilt/base/decibel.h>
#include <ohmtilt/curve/bode_integral.h>
#include <ohmtilt/curve/continuation.h>
#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/curve/minimum_phase.h>

#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

constexpr double coarsest_step = 0.02, finest_step = 0.001;  // in ln f
constexpr double most_lines = 2048;
constexpr double continuation_length = 7;  // in ln f; what lies beyond weighs e^-7

/// Twice as fine as the data, within bounds of accuracy and cost.
Eigen::Index grid_lines(double length, Eigen::Index points) {
  const double fewest = std::ceil(length / coarsest_step);
  const double most = std::max(fewest, std::min(most_lines, std::floor(length / finest_step)));
  return static_cast<Eigen::Index>(std::clamp(2.0 * static_cast<double>(points - 1), fewest, most));
}

/// Steps outward, each place about 8 % further from the last than that one from its own last.
Eigen::ArrayXi outward_steps(double step) {
  std::vector<int> steps{0};
  for (double width = 1; steps.back() * step < continuation_length; width *= 1.08)
    steps.push_back(steps.back() + static_cast<int>(std::lround(width)));
  return Eigen::Map<const Eigen::ArrayXi>(steps.data(), static_cast<Eigen::Index>(steps.size()));
}

/// Phases that one end's continuations add at the grid points.
struct EndPhases {
  Array best, lowest, highest;
};

/// The candidates' order is that of their effect at the end itself, where it is greatest.
EndPhases spread(const Array& best, std::vector<Array> candidates, Eigen::Index end) {
  const auto [low, high] =
      std::minmax_element(candidates.begin(), candidates.end(),
                          [end](const Array& a, const Array& b) { return a[end] < b[end]; });
  return {best, *low, *high};
}

EndPhases upper_end(const BodeIntegral& integral, const Continuations& beyond, Eigen::Index lines) {
  std::vector<Array> phases;
  for (const Array& slopes : beyond.candidates) phases.push_back(integral.upper_rad(slopes));
  return spread(integral.upper_rad(beyond.best), std::move(phases), lines);
}

EndPhases lower_end(const BodeIntegral& integral, const Continuations& beyond) {
  std::vector<Array> phases;
  for (const Array& slopes : beyond.candidates) phases.push_back(integral.lower_rad(slopes));
  return spread(integral.lower_rad(beyond.best), std::move(phases), 0);
}

}  // namespace

MinimumPhase minimum_phase(const ImpedanceCurve& curve) {
  const Array& hz = curve.frequency_hz();
  const Array ln_f = hz.log(), ln_ohm = curve.magnitude_ohm().log();
  const Eigen::Index lines = grid_lines(ln_f[ln_f.size() - 1] - ln_f[0], hz.size());
  const Array grid_hz = log_grid(curve.range(), lines + 1);
  const Array grid_ln_ohm = LogInterpolator(hz, ln_ohm).at(grid_hz);
  const double step = (ln_f[ln_f.size() - 1] - ln_f[0]) / static_cast<double>(lines);

  const Eigen::ArrayXi steps = outward_steps(step);
  const Array places = steps.cast<double>() * step;
  const BodeIntegral integral(step, lines, steps.head(steps.size() - 1));
  const Array inner =
      integral.inner_rad((grid_ln_ohm.tail(lines) - grid_ln_ohm.head(lines)) / step);
  const EndPhases upper = upper_end(integral, continued(ln_f, ln_ohm, places), lines);
  const EndPhases lower = lower_end(integral, continued(-ln_f.reverse(), ln_ohm.reverse(), places));

  const auto at_data = [&](const Array& phase_rad) -> Array {
    const Array bounded = (phase_rad / degree).max(-90).min(90);
    return LogInterpolator(grid_hz, bounded).at(hz);
  };
  return {
      at_data(inner + lower.best + upper.best),
      {at_data(inner + lower.best + upper.lowest), at_data(inner + lower.best + upper.highest),
       at_data(inner + lower.lowest + upper.best), at_data(inner + lower.highest + upper.best)}};
}

}  // namespace ohmtilt
