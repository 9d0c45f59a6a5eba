#include <ohmtilt/curve/extrapolation.h>
#include <ohmtilt/curve/magnitude_fit.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

namespace ohmtilt {
namespace {

// Chosen by trial on invented circuits; lengths in ln f (1 is 1.44 octaves).
constexpr double windows[] = {0.5, 0.7, 1.0, 1.4};
constexpr double straight_window = 0.3;
constexpr int highest_order = 6;
constexpr double parameters_per_point = 0.6;  // more would fit the noise
constexpr Eigen::Index fewest_points = 8, most_points = 60;
constexpr double rounding = 3e-5;       // relative: a fit this good is as good as the digits
constexpr double equal_misfit = 0.001;  // relative: below this, candidates weigh alike
constexpr double positive_until = 2.5;  // outward ln f over which a fit must stay positive
constexpr double passive_until = 1.0;   // and over which its slope must stay passive
constexpr double passive_slope = 1.05;

/// The last points of a curve, ln f and ln|Z| relative to the very last: those within the window,
/// or the fewest that a fit needs.
struct Stretch {
  Array ln_f, ln_ohm;
};

Stretch last_part(const Array& ln_f, const Array& ln_ohm, double window, Eigen::Index fewest) {
  const Eigen::Index n = ln_f.size();
  const Eigen::Index within = (ln_f >= ln_f[n - 1] - window - 1e-9).count();
  const Eigen::Index count = std::min(std::max(within, fewest), n);
  return {ln_f.tail(count) - ln_f[n - 1], ln_ohm.tail(count) - ln_ohm[n - 1]};
}

/// Means over as many neighbours as bring the stretch to most_points or fewer.
Stretch thinned(const Stretch& stretch) {
  const Eigen::Index n = stretch.ln_f.size(), block = (n + most_points - 1) / most_points;
  if (block == 1) return stretch;
  const Eigen::Index count = n / block, kept = count * block;
  const auto means = [&](const Array& values) -> Array {
    return values.tail(kept).reshaped(block, count).colwise().mean().transpose();
  };
  return {means(stretch.ln_f), means(stretch.ln_ohm)};
}

Array slopes_between(const Array& places, const Array& values) {
  const Eigen::Index lines = places.size() - 1;
  return (values.tail(lines) - values.head(lines)) / (places.tail(lines) - places.head(lines));
}

/// The slopes of a fit outside the data, or nothing where no passive circuit would go that way.
std::optional<Array> admissible_slopes(const MagnitudeFit& fit, const Array& places) {
  const Array square = fit.at((2 * places).exp());
  if ((places < positive_until && !(square > 0)).any()) return std::nullopt;
  const Array slopes = slopes_between(places, square.max(1e-9).log() / 2);
  const auto nearby = places.tail(slopes.size()) < passive_until;
  if ((nearby && slopes.abs() > passive_slope).any()) return std::nullopt;
  return slopes.max(-1).min(1);
}

/// A candidate and the root mean square of its relative misfit to |Z|^2 near the end.
struct Candidate {
  Array slopes;
  double misfit = 0;
};

/// The least-squares line through a stretch: a power law.
Candidate straight(const Stretch& data, const Array& places) {
  const Array u = data.ln_f - data.ln_f.mean(), v = data.ln_ohm - data.ln_ohm.mean();
  const double slope = (u * v).sum() / u.square().sum();
  return {Array::Constant(places.size() - 1, std::clamp(slope, -1.0, 1.0)),
          2 * std::sqrt((v - slope * u).square().mean())};
}

/// Where nothing but straight lines fits, the line may as well bend to half its slope.
Array bent(const Array& slopes, const Array& places) {
  return slopes * (1 + (-places.head(slopes.size())).exp()) / 2;
}

double information_criterion(double misfit, double parameters, double points) {
  return 2 * points * std::log(std::hypot(misfit, rounding)) + parameters * std::log(points);
}

/// The power law or admissible rational fit over one window with the lowest information criterion.
/// A magnitude that rises outward may grow without end (a coil, a capacitor); one that falls
/// levels off.
Candidate fitted(const Stretch& data, bool rising, const Array& places) {
  const double n = static_cast<double>(data.ln_f.size());
  const Array x = (2 * data.ln_f).exp(), square = (2 * data.ln_ohm).exp();
  Candidate best = straight(data, places);
  double lowest = information_criterion(best.misfit, 2, n), misfit = best.misfit;
  for (int order = 1; order <= highest_order && misfit > rounding; ++order) {
    const double parameters = 2 * order + (rising ? 2 : 1);
    if (parameters > parameters_per_point * n) break;
    const MagnitudeFit fit(x, square, order, rising);
    misfit = fit.residual();
    const double criterion = information_criterion(misfit, parameters, n);
    if (!(criterion < lowest)) continue;
    if (auto slopes = admissible_slopes(fit, places)) {
      best = Candidate{std::move(*slopes), misfit};
      lowest = criterion;
    }
  }
  return best;
}

}  // namespace

Continuations continued(const Array& ln_f, const Array& ln_ohm, const Array& places) {
  std::vector<Candidate> candidates{straight(last_part(ln_f, ln_ohm, straight_window, 3), places)};
  const bool rising = candidates[0].slopes[0] > 0;
  for (const double window : windows)
    candidates.push_back(
        fitted(thinned(last_part(ln_f, ln_ohm, window, fewest_points)), rising, places));
  Continuations result{Array::Zero(places.size() - 1), {}};
  double weights = 0;
  for (const Candidate& candidate : candidates) {
    const double weight = 1 / (candidate.misfit + equal_misfit);
    result.best += weight * candidate.slopes;
    weights += weight;
    result.candidates.push_back(candidate.slopes);
  }
  result.best /= weights;
  const auto is_straight = [](const Array& slopes) { return (slopes == slopes[0]).all(); };
  if (std::all_of(result.candidates.begin(), result.candidates.end(), is_straight))
    result.candidates.push_back(bent(candidates[0].slopes, places));
  return result;
}

RatioContinuations continued_ratio(const Array& ln_f, const Array& ln_ratio, const Array& places) {
  Continuations itself = continued(ln_f, ln_ratio, places);
  Continuations inverse = continued(ln_f, -ln_ratio, places);
  inverse.best = -inverse.best;
  for (Array& candidate : inverse.candidates) candidate = -candidate;
  const Candidate end = straight(last_part(ln_f, ln_ratio, straight_window, 3), places);
  if (end.slopes[0] > 0) std::swap(itself, inverse);
  return {std::move(itself), std::move(inverse)};
}

}  // namespace ohmtilt
