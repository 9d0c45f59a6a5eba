#include <fmt/format.h>
#include <ohmtilt/analysis/inspection/curve_findings.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/percentiles.h>
#include <ohmtilt/curve/curve_errors.h>
#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/curve/measurement_noise.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <optional>

namespace ohmtilt {
namespace {

using Eigen::Index;
using Found = std::optional<Finding>;

std::string hertz(double hz) {
  return hz < 1000 ? fmt::format("{:.4g} Hz", hz) : fmt::format("{:.4g} kHz", hz / 1000);
}

/// "at 2 frequencies, first at 1234 Hz".
std::string places(const std::vector<double>& hz) {
  if (hz.size() == 1) return "at " + hertz(hz[0]);
  return fmt::format("at {} frequencies, first at {}", hz.size(), hertz(hz[0]));
}

constexpr double instrument_deg = 0.5;  // what instruments err; common practice, no source

/// How far beyond 90 degrees a passive phase may be measured: half a degree is within what
/// instruments err, and of 480 points none strays by 4.5 standard deviations of noise. Where points
/// are sparse their scatter is the curve's own, so that it counts up to a limit only.
double phase_slack_deg(const ImpedanceCurve& curve) {
  constexpr double beyond = 4.5, most_deg = 4;
  const Array phase = unwrapped_deg(curve.phase_deg());
  const double noise = robust_deviation(neighbour_residual(curve.frequency_hz().log(), phase));
  return instrument_deg + std::min(beyond * noise, most_deg);
}

Found not_passive(const ImpedanceCurve& curve) {
  if (!curve.has_phase()) return {};
  const double limit = -std::sin(phase_slack_deg(curve) * degree);
  std::vector<double> where;
  for (Index i = 0; i < curve.points(); ++i)
    if (std::cos(curve.phase_deg()[i] * degree) < limit) where.push_back(curve.frequency_hz()[i]);
  if (where.empty()) return {};
  return Finding{"not-passive",
                 "the phase is beyond 90 degrees, so the resistance is negative, " + places(where),
                 where, "check the phase column; no earphone gives out power"};
}

/// Distance in ln f up to which a single point cannot be a resonance: one of Q 17 is wider.
constexpr double resolved = 0.03;

/// Whether the four neighbours on either side are near enough to tell a fault from a resonance.
bool is_resolved(const Array& ln_f, Index i) {
  return i >= 2 && i + 2 < ln_f.size() && ln_f[i + 2] - ln_f[i - 2] < 4 * resolved;
}

constexpr std::size_t most_breaks = 20;
constexpr double least_break = 0.012;  // nepers

/// A jump of ln|Z| before a point, as a cubic with a step shows it over six points on either side.
struct Jump {
  Index index = 0;
  double size = 0;       ///< nepers
  double explained = 0;  ///< of the squares that the cubic alone leaves
  double weight = 0;     ///< size over its standard error, for points of standard deviation 1
};

constexpr Index half_window = 6;

Jump jump_at(const Array& ln_f, const Array& y, Index at) {
  const Index first = at - half_window, count = 2 * half_window;
  const Array x = (ln_f.segment(first, count) - (ln_f[at - 1] + ln_f[at]) / 2) /
                  (ln_f[first + count - 1] - ln_f[first]);
  // An orthonormal basis of the cubics on these points takes them out of step and data.
  Array step = (x > 0).cast<double>(), data = y.segment(first, count);
  std::array<Array, 4> basis;
  for (std::size_t k = 0; k < basis.size(); ++k) {
    basis[k] = x.pow(double(k));
    for (std::size_t j = 0; j < k; ++j) basis[k] -= (basis[k] * basis[j]).sum() * basis[j];
    basis[k] /= std::sqrt(basis[k].square().sum());
    step -= (step * basis[k]).sum() * basis[k];
    data -= (data * basis[k]).sum() * basis[k];
  }
  const double squares = step.square().sum(), product = (step * data).sum();
  const double all = data.square().sum();
  return {at, product / squares, all > 0 ? product * product / squares / all : 0,
          std::sqrt(squares)};
}

/// The most certain first; within six points of one there is no other.
std::vector<double> jumps_hz(const ImpedanceCurve& curve) {
  constexpr double certain = 5.5, mostly = 0.85;
  const Array ln_f = curve.frequency_hz().log(), y = curve.magnitude_ohm().log();
  const double noise = robust_deviation(neighbour_residual(ln_f, y));
  const Array digit = rounding_step(curve.magnitude_ohm()) / curve.magnitude_ohm();
  std::vector<Jump> all;
  for (Index i = half_window; i + half_window <= ln_f.size(); ++i) {
    if (ln_f[i + half_window - 1] - ln_f[i - half_window] > (2 * half_window - 1) * resolved)
      continue;
    const Jump jump = jump_at(ln_f, y, i);
    const double size = std::abs(jump.size);
    if (size > std::max(least_break, 3 * digit[i]) && size * jump.weight > certain * noise &&
        jump.explained > mostly)
      all.push_back(jump);
  }
  std::sort(all.begin(), all.end(),
            [](const Jump& a, const Jump& b) { return a.explained > b.explained; });
  std::vector<Index> kept;
  for (const Jump& jump : all)
    if (kept.size() < most_breaks && std::none_of(kept.begin(), kept.end(), [&](Index k) {
          return std::abs(k - jump.index) < 2 * half_window;
        }))
      kept.push_back(jump.index);
  std::sort(kept.begin(), kept.end());
  std::vector<double> where;
  for (const Index i : kept) where.push_back(curve.frequency_hz()[i]);
  return where;
}

/// The largest first; what its neighbours owe to it is not counted again. A lone point leaves -2/3
/// of its residual on either side; a resonance that is resolved leaves less than 1/2.
std::vector<double> lone_hz(const ImpedanceCurve& curve) {
  const Array ln_f = curve.frequency_hz().log();
  const Array residual = neighbour_residual(ln_f, curve.magnitude_ohm().log());
  const double noise = robust_deviation(residual), limit = std::max(4.8 * noise, least_break);
  // Where |Z| is small, its last digit is coarse.
  const Array digit = rounding_step(curve.magnitude_ohm()) / curve.magnitude_ohm();
  Array size = residual.abs();
  for (Index i = 0; i < size.size(); ++i)
    if (!is_resolved(ln_f, i) || size[i] < 2 * digit[i]) size[i] = 0;
  std::vector<double> found;
  Index at = 0;
  while (size.maxCoeff(&at) > limit && found.size() < most_breaks) {
    const double before = at > 0 ? residual[at - 1] / residual[at] : 0;
    const double after = at + 1 < residual.size() ? residual[at + 1] / residual[at] : 0;
    // The noise of a neighbour moves its share.
    const double slack = std::min(2 * noise / size[at], 0.4);
    if (std::max(before, after) < -0.55 + slack) found.push_back(curve.frequency_hz()[at]);
    for (Index i = std::max<Index>(0, at - 3); i <= std::min(at + 3, size.size() - 1); ++i)
      size[i] = 0;
  }
  std::sort(found.begin(), found.end());
  return found;
}

/// A jump leaves residuals as a lone point does where there is noise: near one there is none.
std::vector<double> lone_hz_away_from(const std::vector<double>& jumps,
                                      const ImpedanceCurve& curve) {
  std::vector<double> found = lone_hz(curve);
  std::erase_if(found, [&](double hz) {
    return std::any_of(jumps.begin(), jumps.end(), [&](double jump_hz) {
      return std::abs(std::log(hz / jump_hz)) < 4 * resolved;
    });
  });
  return found;
}

Found outlier(const ImpedanceCurve& curve) {
  const auto where = lone_hz_away_from(jumps_hz(curve), curve);
  if (where.empty()) return {};
  return Finding{"outlier", "single points stand off the curve, " + places(where), where,
                 "remove them or measure again there"};
}

Found step(const ImpedanceCurve& curve) {
  const auto where = jumps_hz(curve);
  if (where.empty()) return {};
  return Finding{"step", "the curve jumps between two points, " + places(where), where,
                 "look for a change of range or of contact, and measure again"};
}

double points_an_octave(const ImpedanceCurve& curve) {
  const Band range = curve.range();
  return static_cast<double>(curve.points() - 1) / std::log2(range.high_hz / range.low_hz);
}

Found sparse(const ImpedanceCurve& curve) {
  const Array change = (curve.magnitude_ohm().tail(curve.points() - 1) /
                        curve.magnitude_ohm().head(curve.points() - 1))
                           .log()
                           .abs();
  std::vector<double> where;
  for (Index i = 0; i < change.size(); ++i) {
    const double octaves = std::log2(curve.frequency_hz()[i + 1] / curve.frequency_hz()[i]);
    if (change[i] > 0.15 && octaves > 1.0 / 16) where.push_back(curve.frequency_hz()[i]);
  }
  if (where.empty() && points_an_octave(curve) >= 6) return {};
  const std::string what =
      where.empty()
          ? fmt::format("there are only {:.2g} points an octave", points_an_octave(curve))
          : "neighbouring points are far apart where the impedance turns quickly, " + places(where);
  return Finding{"sparse", what, where, "measure at 24 or more points an octave"};
}

Found quantised(const ImpedanceCurve& curve) {
  const double grain = common_step(curve.magnitude_ohm(), 0.003 * curve.magnitude_ohm().minCoeff());
  if (grain == 0) return {};
  return Finding{"quantised",
                 fmt::format("all magnitudes are multiples of {:g} ohm", grain),
                 {},
                 "use the instrument's own data with more digits, not figures read off a picture"};
}

Found noisy(const ImpedanceCurve& curve) {
  if (points_an_octave(curve) < 12) return {};
  const double noise = std::min(noise_percent(curve), 100 * std::sqrt(curve_errors(curve).noise));
  if (noise <= 0.4) return {};
  return Finding{"noisy",
                 fmt::format("neighbouring points scatter by {:.2g} % of |Z|", noise),
                 {},
                 "average more, raise the level within the earphone's limits, or smooth"};
}

/// How far a phase is from the one that the magnitudes have, in squares weighted by how well they
/// tell it (half a degree of the instrument's own besides). What slopes of ln|Z| beyond the ends
/// add may be as large again as it is expected, for a coil turns the phase by x where it raises |Z|
/// by x^2/2 only; it hardly takes away what is expected.
class PhaseMisfit {
 public:
  explicit PhaseMisfit(const ImpedanceCurve& curve) : expected_(expected_phase(curve)) {
    const Array u = curve.frequency_hz().log();
    lower_ = (u - u[0]).unaryExpr(&end_phase_profile);
    upper_ = (u[u.size() - 1] - u).unaryExpr(&end_phase_profile);
    weight_ = (expected_.standard_deg.square() + instrument_deg * instrument_deg).inverse();
    phase_deg_ = curve.phase_deg().unaryExpr([](double d) { return std::remainder(d, 360.0); });
  }
  double times(double factor) const {
    const Index last = phase_deg_.size() - 1;
    return squares(factor * phase_deg_ - expected_.phase_deg -
                   usual_share *
                       (expected_.phase_deg[0] * lower_ + expected_.phase_deg[last] * upper_));
  }
  /// Whether the expected phase is one at all: beyond its uncertainty somewhere.
  bool tells() const {
    constexpr double beyond = 3;  // standard uncertainties
    return (expected_.phase_deg.square() * weight_).maxCoeff() > beyond * beyond;
  }

 private:
  static constexpr double usual_share = 0.4, share_spread = 0.6;  // of the phase expected at an end

  double product(const Array& one, const Array& other) const {
    return (weight_ * one * other).sum();
  }
  /// One over the square of what an end's share may be.
  double end_weight(Index i) const {
    return 1 / (1 / weight_[i] + std::pow(share_spread * expected_.phase_deg[i], 2));
  }
  /// The least that the best shares of the two ends leave of values.
  double squares(const Array& values) const {
    const double a = product(lower_, lower_) + end_weight(0);
    const double b = product(upper_, upper_) + end_weight(weight_.size() - 1);
    const double c = product(lower_, upper_), determinant = a * b - c * c;
    const double low = product(lower_, values), high = product(upper_, values);
    return product(values, values) -
           (b * low * low - 2 * c * low * high + a * high * high) / determinant;
  }

  ExpectedPhase expected_;
  Array weight_, phase_deg_, lower_, upper_;
};

/// Nothing for a curve too short to expect a phase of.
std::optional<PhaseMisfit> phase_misfit(const ImpedanceCurve& curve) {
  const double octaves = std::log2(curve.range().high_hz / curve.range().low_hz);
  if (!curve.has_phase() || curve.points() < 8 || octaves < 1) return {};
  PhaseMisfit misfit(curve);
  if (!misfit.tells()) return {};
  return misfit;
}

constexpr double clearly_better = 0.25;  // a misfit than the one as it stands
constexpr double somewhat_better =
    0.5;  // where no phase exceeds pi/2 degrees, which is odd already

Found phase_sign(const ImpedanceCurve& curve) {
  const auto misfit = phase_misfit(curve);
  if (!misfit || misfit->times(-1) > clearly_better * misfit->times(1)) return {};
  return Finding{"phase-sign",
                 "the phase has the wrong sign: it falls where |Z| rises",
                 {},
                 "turn the sign of the phase column"};
}

Found phase_radians(const ImpedanceCurve& curve) {
  if (!curve.has_phase() || curve.phase_deg().abs().maxCoeff() > std::numbers::pi / 2 + 0.01)
    return {};
  const auto misfit = phase_misfit(curve);
  if (!misfit || misfit->times(1 / degree) > somewhat_better * misfit->times(1)) return {};
  return Finding{"phase-radians",
                 "the phase is given as degrees but fits only as radians",
                 {},
                 "name the column phase_rad, or multiply it by 57.2958"};
}

Found kilohm(const ImpedanceCurve& curve) {
  const double middle = percentile(curve.magnitude_ohm(), 0.5);
  if (middle < 1)
    return Finding{"kilohm",
                   fmt::format("half of the magnitudes are below {:.2g} ohm", middle),
                   {},
                   "if they are kilohms, name the column magnitude_kohm"};
  // What is capacitive may have such ohms, and falls by more.
  const bool flat = curve.magnitude_ohm().maxCoeff() < 10 * curve.magnitude_ohm().minCoeff();
  if (middle > 3000 && flat)
    return Finding{"kilohm",
                   fmt::format("half of the magnitudes are above {:.2g} ohm", middle),
                   {},
                   "if they are milliohms or were multiplied twice, divide them by 1000"};
  return {};
}

/// A response in dB lies near 60 to 125, varies by less than a third, and falls at the top.
Found looks_like_response(const ImpedanceCurve& curve) {
  if (curve.has_phase()) return {};
  const Array& values = curve.magnitude_ohm();
  const double middle = percentile(values, 0.5), last = values[values.size() - 1];
  const bool level = middle > 45 && middle < 130 && values.maxCoeff() < 1.5 * middle &&
                     values.maxCoeff() - values.minCoeff() > 4;
  if (!level || last > 0.97 * values.maxCoeff()) return {};
  return Finding{
      "looks-like-response",
      "no unit is stated, and the values look like levels in dB: they fall at the top as "
      "responses do",
      {},
      "name the column magnitude_ohm if they are ohms; else give the impedance file"};
}

/// The whole curve below 100 Hz, over a range that only kilohertz make an earphone's.
Found kilohertz(const ImpedanceCurve& curve) {
  const auto [low, high] = curve.range();
  if (!(low < 2 && high < 100 && high > 30 * low)) return {};
  return Finding{"kilohertz",
                 fmt::format("the frequencies reach from {:.3g} to {:.3g} Hz only", low, high),
                 {low, high},
                 "name the column frequency_khz if they are kilohertz"};
}

Found band_missing(const ImpedanceCurve& curve) {
  const Band range = curve.range(), audio;
  std::vector<double> where;
  if (range.low_hz > 1.25 * audio.low_hz) where.push_back(range.low_hz);
  if (range.high_hz < audio.high_hz / 1.06) where.push_back(range.high_hz);
  if (where.empty()) return {};
  return Finding{"band-missing",
                 fmt::format("the curve reaches from {} to {} only", hertz(range.low_hz),
                             hertz(range.high_hz)),
                 where, "measure from 20 Hz to 20 kHz"};
}

Found magnitude_only(const ImpedanceCurve& curve) {
  if (curve.has_phase()) return {};
  return Finding{"magnitude-only",
                 "there is no phase, so it is inferred from the magnitude",
                 {},
                 "give the phase if the instrument has it"};
}

}  // namespace

std::vector<Finding> findings(const ImpedanceCurve& curve, const FindingOptions& options) {
  std::vector<Finding> all;
  for (const auto check : {not_passive, outlier, step, sparse, quantised, noisy, phase_sign,
                           phase_radians, kilohertz, kilohm})
    if (Found found = check(curve)) all.push_back(std::move(*found));
  if (!options.ohm_is_stated)
    if (Found found = looks_like_response(curve)) all.push_back(std::move(*found));
  for (const auto check : {band_missing, magnitude_only})
    if (Found found = check(curve)) all.push_back(std::move(*found));
  return all;
}

}  // namespace ohmtilt
