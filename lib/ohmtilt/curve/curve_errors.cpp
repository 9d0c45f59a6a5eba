#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/elimination.h>
#include <ohmtilt/base/percentiles.h>
#include <ohmtilt/base/spectrum.h>
#include <ohmtilt/curve/bode_integral.h>
#include <ohmtilt/curve/curve_errors.h>
#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/curve/minimum_phase.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

namespace ohmtilt {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr double level_variance = 100, slope_variance = 1;  // relative to the process': vague
constexpr double jitter = 1e-10;
constexpr double least_noise = 3e-10, most_noise = 0.05;         // nepers
constexpr double amplitude_shape = 1, amplitude_scale = 0.0225;  // inverse gamma, of sigma^2
constexpr double likely_noise_low = 4e-4, likely_noise_high = 0.02;
constexpr double likely_noise_bonus = 1.5;  // nepers of probability
constexpr double least_weight = 0.01;       // of a hypothesis that is kept
constexpr Index many_hypotheses = 14, few_hypotheses = 5;
constexpr double far_apart = 0.1, coarse_trust = 0.5;
constexpr Index block_points = 40, most_blocks = 4;
constexpr Index most_data = 480, most_gaps = 600, widest_gaps = 60;
constexpr Index few_points = 100, wide_window = 20, narrow_window = 10;
constexpr int noise_steps = 21;
constexpr double usual_gap = 0.5, widest_unseen = 1.0;  // in ln f

/// Singularities at distances above d0 from the axis, the nearer ones the weaker.
struct Roughness {
  std::vector<double> width_squared, numerator;  // (2d)^2; that times a weight, these sum to 1
  double ln_prior = 0;
};

Roughness roughness(double nearest, double exponent) {
  constexpr double farthest = 1.2, usual = 0.06, spread = 0.8;
  const int count = std::max(4, int(std::ceil(std::log(farthest / nearest) / std::log(1.7))));
  Roughness result;
  std::vector<double> weights;
  double sum = 0;
  for (int i = 0; i < count; ++i) {
    const double low = 1.35 * nearest;
    const double d = low * std::pow(farthest / low, double(i) / (count - 1));
    result.width_squared.push_back(4 * d * d);
    weights.push_back(std::pow(d - nearest, exponent));
    sum += weights.back();
  }
  for (std::size_t i = 0; i < weights.size(); ++i)
    result.numerator.push_back(weights[i] / sum * result.width_squared[i]);
  const double z = std::log(nearest / usual) / spread;
  result.ln_prior = -z * z / 2;
  return result;
}

const std::vector<Roughness>& all_roughness() {
  static const std::vector<Roughness> all = [] {
    std::vector<Roughness> made;
    for (const double nearest : {0.02, 0.045, 0.1, 0.22})
      for (const double exponent : {0.6, 1.4}) made.push_back(roughness(nearest, exponent));
    return made;
  }();
  return all;
}

/// Covariance of ln|Z| at two places in ln f, counted from a common origin, for amplitude 1.
double covariance(const Roughness& rough, double u, double v) {
  const double square = (u - v) * (u - v);
  double sum = level_variance + slope_variance * u * v;
  for (std::size_t i = 0; i < rough.numerator.size(); ++i)
    sum += rough.numerator[i] / (rough.width_squared[i] + square);
  return sum;
}

MatrixXd covariance_matrix(const Roughness& rough, const Array& u) {
  MatrixXd k(u.size(), u.size());
  for (Index j = 0; j < u.size(); ++j)
    for (Index i = j; i < u.size(); ++i) k(i, j) = k(j, i) = covariance(rough, u[i], u[j]);
  return k;
}

/// One way in which the curve may have come about.
struct Hypothesis {
  const Roughness* rough = nullptr;
  double noise_ratio = 0;  // standard deviations of noise over the process'
  double variance = 0;     // of the process
  double weight = 0;
};

/// Quadratic form and half the log determinant of T + r I for tridiagonal T, by L D L^T.
struct Likelihood {
  double square = 0, half_log_det = 0;
};

Likelihood likelihood(const TridiagonalForm& t, double r) {
  Likelihood result;
  double d = 0, z = 0;
  for (Index i = 0; i < t.turned.size(); ++i) {
    const double ratio = i > 0 ? t.below[i - 1] / d : 0;
    z = t.turned[i] - ratio * z;
    d = std::max(t.diagonal[i] + r - (i > 0 ? ratio * t.below[i - 1] : 0), 1e-14);
    result.square += z * z / d;
    result.half_log_det += 0.5 * std::log(d);
  }
  return result;
}

/// Stretches of neighbouring points that stand for the whole curve.
std::vector<std::pair<Index, Index>> blocks_of(Index points) {
  if (points <= block_points + 8) return {{0, points}};
  const Index count = std::min(most_blocks, (points + block_points - 1) / block_points);
  std::vector<std::pair<Index, Index>> blocks;
  for (Index i = 0; i < count; ++i)
    blocks.emplace_back(i * (points - block_points) / (count - 1), block_points);
  return blocks;
}

double noise_ratio(int step) { return 1e-5 * std::pow(1e5, double(step) / (noise_steps - 1)); }

/// Logarithm of the prior probability of a noise, up to a constant.
double noise_prior(double noise, double floor) {
  double ln = -0.05 * std::log(std::max(noise, floor) / floor);
  if (noise < floor) ln -= 4 * std::pow(std::log(noise / floor), 2);
  if (noise > most_noise) ln -= 4 * std::pow(std::log(noise / most_noise), 2);
  if (noise > likely_noise_low && noise < likely_noise_high) ln += likely_noise_bonus;
  return ln;
}

/// The hypotheses of one roughness, one per noise, weighted by their logarithms.
void add_hypotheses(const Roughness& rough, const Array& u, const Array& y, double floor,
                    std::vector<Hypothesis>& all) {
  std::vector<Likelihood> sums(noise_steps);
  double count = 0;
  for (const auto& [start, length] : blocks_of(u.size())) {
    const Array place = u.segment(start, length) - u.segment(start, length).mean();
    const Array value = y.segment(start, length) - y.segment(start, length).mean();
    const TridiagonalForm form = tridiagonal_form(covariance_matrix(rough, place), value);
    for (int i = 0; i < noise_steps; ++i) {
      const double r = noise_ratio(i);
      const Likelihood one = likelihood(form, r * r + jitter);
      sums[std::size_t(i)].square += one.square;
      sums[std::size_t(i)].half_log_det += one.half_log_det;
    }
    count += double(length);
  }
  for (int i = 0; i < noise_steps; ++i) {
    const double shape = amplitude_shape + count / 2;
    const double scale = amplitude_scale + sums[std::size_t(i)].square / 2;
    const double variance = scale / shape, noise = noise_ratio(i) * std::sqrt(variance);
    const double ln = rough.ln_prior - sums[std::size_t(i)].half_log_det - shape * std::log(scale) +
                      noise_prior(noise, floor);
    all.push_back({&rough, std::max(noise_ratio(i), floor / std::sqrt(variance)), variance, ln});
  }
}

/// The likeliest hypotheses; their weights' sum is 1.
std::vector<Hypothesis> hypotheses(const Array& u, const Array& y, double floor) {
  std::vector<Hypothesis> all;
  for (const Roughness& rough : all_roughness()) add_hypotheses(rough, u, y, floor, all);
  std::sort(all.begin(), all.end(), [](auto& a, auto& b) { return a.weight > b.weight; });
  const double best = all.front().weight;
  // One roughness for the whole curve is a simplification that far-apart points cannot contradict.
  const double trust =
      (u[u.size() - 1] - u[0]) / double(u.size() - 1) > far_apart ? coarse_trust : 1;
  double sum = 0;
  for (Hypothesis& one : all) sum += one.weight = std::exp(trust * (one.weight - best));
  const Index most = u.size() <= few_points ? many_hypotheses : few_hypotheses;
  while (all.size() > 1 && (Index(all.size()) > most || all.back().weight < least_weight * sum))
    all.pop_back();
  sum = 0;
  for (const Hypothesis& one : all) sum += one.weight;
  for (Hypothesis& one : all) one.weight /= sum;
  return all;
}

/// Every value where there are few, else as many as are looked at, ends included.
Array thinned(const Array& values) {
  const Index n = values.size();
  if (n <= most_data) return values;
  Array kept(most_data);
  for (Index i = 0; i < most_data; ++i) kept[i] = values[i * (n - 1) / (most_data - 1)];
  return kept;
}

/// Indices of the gaps that are looked at: all, or evenly spread ones and the widest.
std::vector<Index> looked_at(const Array& width) {
  const Index n = width.size();
  std::vector<Index> gaps(std::size_t(n), 0);
  for (Index i = 0; i < n; ++i) gaps[std::size_t(i)] = i;
  if (n <= most_gaps) return gaps;
  std::nth_element(gaps.begin(), gaps.begin() + widest_gaps, gaps.end(),
                   [&](Index a, Index b) { return width[a] > width[b]; });
  gaps.resize(std::size_t(widest_gaps));
  const Index spread = most_gaps - widest_gaps;
  for (Index i = 0; i < spread; ++i) gaps.push_back(i * (n - 1) / (spread - 1));
  std::sort(gaps.begin(), gaps.end());
  gaps.erase(std::unique(gaps.begin(), gaps.end()), gaps.end());
  return gaps;
}

/// What one hypothesis says in the middle of a gap from the points around it. What is left is that
/// of exact points: what their noise does there is counted with the noise.
class GapPrediction {
 public:
  GapPrediction(const Hypothesis& how, const Array& places)
      : variance_(how.variance), noise_(how.noise_ratio * how.noise_ratio * how.variance) {
    MatrixXd k = covariance_matrix(*how.rough, places);
    k.diagonal().array() += jitter;
    VectorXd across(places.size());
    for (Index i = 0; i < places.size(); ++i) across[i] = covariance(*how.rough, places[i], 0);
    weights_ = solve_positive(k, across);
    left_ = std::max(0.0, covariance(*how.rough, 0, 0) - weights_.dot(across));
    const double noise = how.noise_ratio * how.noise_ratio;
    if (noise <= jitter) return;
    k.diagonal().array() += noise;
    weights_ = solve_positive(k, across);
  }
  /// Mean square of the difference from a value that stands for the prediction; what noise alone
  /// makes of it is not counted.
  double mean_square(const Array& values, double instead) const {
    const double middle = values.mean();
    const double mean = middle + weights_.dot((values - middle).matrix());
    const double square = (mean - instead) * (mean - instead);
    return variance_ * left_ + std::max(0.0, square - 3 * noise_);
  }

 private:
  double variance_, noise_, left_ = 0;
  VectorXd weights_;
};

void fill_gaps(const ImpedanceCurve& curve, const Array& u, const Array& y,
               const std::vector<Hypothesis>& hows, CurveErrors& errors) {
  const Index n = u.size();
  const Array width = u.tail(n - 1) - u.head(n - 1);
  const auto gaps = looked_at(width);
  const Index count = Index(gaps.size());
  const Index window = std::min(n, n <= few_points ? wide_window : narrow_window);
  const Array phase =
      curve.has_phase() ? Array(unwrapped_deg(curve.phase_deg()) * degree) : Array();
  errors.gap_ln_f = errors.gap_width = errors.gap_magnitude = errors.gap_phase = Array::Zero(count);
  for (Index g = 0; g < count; ++g) {
    const Index i = gaps[std::size_t(g)];
    const double middle = (u[i] + u[i + 1]) / 2, hz = std::exp(middle);
    errors.gap_ln_f[g] = middle;
    errors.gap_width[g] = width[i];
    // Resonances that lie within a gap are not seen at all.
    const double unseen = 1 + std::min(width[i], widest_unseen) / usual_gap;
    const Index first = std::clamp<Index>(i + 1 - window / 2, 0, n - window);
    const Array places = u.segment(first, window) - middle;
    const auto part = [&](const Array& of) -> Array { return of.segment(first, window); };
    // Between two points the interpolation knows the nearest two on either side only.
    const auto here = [&](const Array& of) {
      return LogInterpolator(part(curve.frequency_hz()), part(of)).at(hz);
    };
    const double ln_here = here(y), phase_here = curve.has_phase() ? here(phase) : 0;
    for (const Hypothesis& how : hows) {
      const GapPrediction prediction(how, places);
      errors.gap_magnitude[g] += unseen * how.weight * prediction.mean_square(part(y), ln_here);
      if (curve.has_phase())
        errors.gap_phase[g] +=
            unseen * how.weight * prediction.mean_square(part(phase), phase_here);
    }
  }
}

/// A straight line through the data within a distance of the end (three points at least).
struct EndLine {
  double slope = 0, residual = 0, range = 0;
};

EndLine end_line(const Array& u, const Array& y, double distance) {
  const Index n = u.size();
  const Index within = (u >= u[n - 1] - distance - 1e-9).count();
  const Index count = std::min(n, std::max<Index>(within, 3));
  const Array x = u.tail(count) - u.tail(count).mean(), v = y.tail(count) - y.tail(count).mean();
  const double slope = (x * v).sum() / x.square().sum();
  return {slope, std::sqrt((v - slope * x).square().mean()), v.maxCoeff() - v.minCoeff()};
}

double last_spacing(const Array& u) {
  const Index n = u.size(), gaps = std::min<Index>(n - 1, 3);
  return (u[n - 1] - u[n - 1 - gaps]) / double(gaps);
}

double upper_end(const Array& u, const Array& y, double spread, double noise) {
  const double deviation = std::sqrt((y - y.mean()).square().mean()), spacing = last_spacing(u);
  const EndLine middle = end_line(u, y, 0.7), wide = end_line(u, y, 1.4);
  const double hidden_coil = 0.64 * (noise + 3e-5);
  return std::sqrt(std::pow(0.42 * spread, 2) + std::pow(4.4 * middle.residual, 2) +
                   std::pow(1.35 * wide.residual, 2) + std::pow(3 * noise, 2) + hidden_coil +
                   std::pow(0.4 * spacing * wide.range, 2) +
                   std::pow(0.4 * spacing * deviation, 2));
}

double lower_end(const Array& u, const Array& y, double spread, double noise) {
  const double slope = end_line(u, y, 0.35).slope, spacing = last_spacing(u);
  return std::sqrt(std::pow(0.6 * spread, 2) + std::pow(0.1 * slope, 2) +
                   std::pow(1.7 * end_line(u, y, 0.7).residual, 2) + std::pow(0.5 * noise, 2) +
                   std::pow(1.5 * spacing * slope, 2));
}

/// The step of values that were read off a picture or a display, in nepers: where neighbours are
/// often equal, the least by which they are not. 0 for others.
double tied_step(const Array& y) {
  constexpr double often = 0.1, equal = 1e-9;
  const Array apart = (y.tail(y.size() - 1) - y.head(y.size() - 1)).abs();
  const Index ties = (apart < equal).count(), others = apart.size() - ties;
  if (others == 0 || apart.size() < 8 || double(ties) < often * double(apart.size())) return 0;
  double least = apart.maxCoeff();
  for (const double step : apart)
    if (step >= equal) least = std::min(least, step);
  return least;
}

}  // namespace

double common_step(const Array& values, double least) {
  constexpr double few_digits = 0.01;
  const double most =
      std::max(values.maxCoeff() - values.minCoeff(), few_digits * values.abs().maxCoeff());
  for (int power = 3; power >= -9; --power)
    for (const double digit : {5.0, 2.0, 1.0}) {
      const double candidate = digit * std::pow(10.0, power);
      if (candidate < least) return 0;
      if (candidate > most) continue;
      if (((values / candidate) - (values / candidate).round()).abs().maxCoeff() < 1e-6)
        return candidate;
    }
  return 0;
}

double rounding_step(const Array& values) {
  return common_step(values, 1e-7 * values.abs().maxCoeff());
}

Array phase_variance_of_gaps(const CurveErrors& errors, const Array& ln_f) {
  constexpr double reach = 0.35;  // of a gap's width
  constexpr double mean = 0.5;    // of a gap's variance over its width
  const Array half = reach * errors.gap_width;
  const Array strength = mean * errors.gap_magnitude * errors.gap_width * half / std::numbers::pi;
  Array result = Array::Zero(ln_f.size());
  if (strength.maxCoeff() <= 0) return result;
  for (Index i = 0; i < ln_f.size(); ++i)
    result[i] = (strength / ((errors.gap_ln_f - ln_f[i]).square() + half.square())).sum();
  return result;
}

EndSpread end_spread(const MinimumPhase& phase) {
  const Index last = phase.phase_deg.size() - 1;
  EndSpread spread;
  for (const Array& other : phase.alternatives_deg) {
    const auto away = [&](Index i) { return std::abs(other[i] - phase.phase_deg[i]) * degree; };
    spread.lower_rad = std::max(spread.lower_rad, away(0));
    spread.upper_rad = std::max(spread.upper_rad, away(last));
  }
  return spread;
}

ExpectedPhase expected_phase(const ImpedanceCurve& curve) {
  const ImpedanceCurve bare({}, curve.frequency_hz(), curve.magnitude_ohm());
  const MinimumPhase phase = minimum_phase(bare);
  const Index last = curve.points() - 1;
  const CurveErrors errors = curve_errors(bare, end_spread(phase));
  const Array u = curve.frequency_hz().log();
  const Array lower = errors.lower_end * (u - u[0]).unaryExpr(&end_phase_profile);
  const Array upper = errors.upper_end * (u[last] - u).unaryExpr(&end_phase_profile);
  const Array variance = errors.noise + errors.rounding + lower.square() + upper.square() +
                         phase_variance_of_gaps(errors, u);
  return {phase.phase_deg, variance.sqrt() / degree};
}

std::optional<double> hidden_quality(const ImpedanceCurve& curve) {
  constexpr double high_quality = 20;
  const Band audio;
  const Array& hz = curve.frequency_hz();
  double widest = 0;
  for (Index i = 0; i + 1 < hz.size(); ++i)
    if (hz[i + 1] > audio.low_hz && hz[i] < audio.high_hz)
      widest = std::max(widest, std::log(hz[i + 1] / hz[i]));
  if (widest * high_quality <= 2) return {};
  return 2 / widest;
}

double end_phase_profile(double ln_f) {
  constexpr double whole = std::numbers::pi * std::numbers::pi / 4;
  return 1 - bode_weight_integral(ln_f) / whole;
}

CurveErrors curve_errors(const ImpedanceCurve& curve, const std::optional<EndSpread>& spread) {
  const Array u = curve.frequency_hz().log(), y = curve.magnitude_ohm().log();
  CurveErrors errors;
  const double step = rounding_step(curve.magnitude_ohm());
  const double tied = tied_step(y);
  errors.rounding = (step / curve.magnitude_ohm()).square().max(tied * tied) / 12;
  if (curve.has_phase())
    errors.phase_rounding = std::pow(rounding_step(curve.phase_deg()) * degree, 2) / 12;
  const double floor = std::max(least_noise, std::sqrt(percentile(errors.rounding, 0.5)));
  const auto hows = hypotheses(thinned(u), thinned(y), floor);
  for (const Hypothesis& how : hows)
    errors.noise += how.weight * how.noise_ratio * how.noise_ratio * how.variance;
  errors.noise = std::max(0.0, errors.noise - floor * floor);
  // Few points bound a noise less well than its mean square says.
  errors.noise *= 1 + 60.0 / double(u.size());
  fill_gaps(curve, u, y, hows, errors);
  if (spread) {
    const double noise = std::sqrt(errors.noise + floor * floor);
    errors.upper_end = upper_end(u, y, spread->upper_rad, noise);
    errors.lower_end = lower_end(-u.reverse(), y.reverse(), spread->lower_rad, noise);
  }
  return errors;
}

}  // namespace ohmtilt
