#include <ohmtilt/base/decibel.h>
#include <ohmtilt/curve/bode_integral.h>
#include <ohmtilt/curve/extrapolation.h>
#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/curve/minimum_phase.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

constexpr double coarsest_step = 0.02, finest_step = 0.001;  // in ln f
constexpr double narrowest = 0.1;  // range of the data in ln f (a seventh of an octave)
constexpr double most_lines = 2048;
constexpr double continuation_length = 7;  // in ln f; what lies beyond weighs e^-7

void refuse_narrow(const ImpedanceCurve& curve) {
  const auto [low_hz, high_hz] = curve.range();
  if (has_minimum_phase(curve.range())) return;
  const std::string wrong = "a phase cannot be had from magnitudes between " + number_text(low_hz) +
                            " and " + number_text(high_hz) + " Hz alone";
  const std::string remedy = "give the phase, or magnitudes over a wider range";
  if (curve.notes().file.empty()) throw InputError(wrong, remedy);
  throw InputError(Place{curve.notes().file}, wrong, remedy);
}

/// Twice as fine as the data, within bounds of accuracy and cost.
Eigen::Index grid_lines(double length, Eigen::Index points) {
  const double fewest = std::min(most_lines, std::ceil(length / coarsest_step));
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

/// What one end adds to the phase at the grid points, and how far the candidate that differs most
/// at the end itself (where the effect is greatest) lies from the best.
struct EndPhase {
  Array best_rad, spread_rad;
};

template <class AddedPhase>
EndPhase end_phase(const Continuations& beyond, Eigen::Index end, const AddedPhase& added_rad) {
  EndPhase result{added_rad(beyond.best), Array::Zero(1)};
  double farthest = -1;
  for (const Array& slopes : beyond.candidates) {
    const Array difference = added_rad(slopes) - result.best_rad;
    if (std::abs(difference[end]) <= farthest) continue;
    farthest = std::abs(difference[end]);
    result.spread_rad = difference;
  }
  return result;
}

constexpr double rising_weight = 0.4;        // of what the other continuation would change
constexpr double hidden_slope = 0.5 / 45.0;  // a constant slope of n turns an end by n 45 degrees

struct ImpedanceEnd {
  template <class AddedPhase>
  EndPhase operator()(const Array& ln_f, const Array& ln_ohm, const Array& places, Eigen::Index end,
                      const AddedPhase& added_rad) const {
    return end_phase(continued(ln_f, ln_ohm, places), end, added_rad);
  }
};

struct RatioEnd {
  template <class AddedPhase>
  EndPhase operator()(const Array& ln_f, const Array& ln_ratio, const Array& places,
                      Eigen::Index end, const AddedPhase& added_rad) const {
    const RatioContinuations ways = continued_ratio(ln_f, ln_ratio, places);
    EndPhase result = end_phase(ways.falling, end, added_rad);
    const Array other = added_rad(ways.rising.best) - result.best_rad;
    const Array hidden = added_rad(Array::Constant(places.size() - 1, hidden_slope));
    result.spread_rad =
        (result.spread_rad.square() + (rising_weight * other).square() + hidden.square()).sqrt();
    return result;
  }
};

template <class End>
MinimumPhase phase_with(const ImpedanceCurve& curve, const End& end_of) {
  const Array& hz = curve.frequency_hz();
  refuse_narrow(curve);
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
  const EndPhase upper = end_of(ln_f, ln_ohm, places, lines,
                                [&](const Array& slopes) { return integral.upper_rad(slopes); });
  const EndPhase lower = end_of(-ln_f.reverse(), ln_ohm.reverse(), places, 0,
                                [&](const Array& slopes) { return integral.lower_rad(slopes); });

  const Array best = inner + lower.best_rad + upper.best_rad;
  const auto at_data = [&](const Array& phase_rad) -> Array {
    const Array bounded = (phase_rad / degree).max(-90).min(90);
    return LogInterpolator(grid_hz, bounded).at(hz);
  };
  return {at_data(best),
          {at_data(best - upper.spread_rad), at_data(best + upper.spread_rad),
           at_data(best - lower.spread_rad), at_data(best + lower.spread_rad)}};
}

}  // namespace

bool has_minimum_phase(const Band& range) {
  return std::log(range.high_hz / range.low_hz) >= narrowest;
}

MinimumPhase minimum_phase(const ImpedanceCurve& curve) {
  return phase_with(curve, ImpedanceEnd{});
}

MinimumPhase minimum_phase_of_ratio(const ImpedanceCurve& ratio) {
  return phase_with(ratio, RatioEnd{});
}

}  // namespace ohmtilt
