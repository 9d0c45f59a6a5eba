#include <fmt/format.h>
#include <ohmtilt/analysis/inspection/curve_findings.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/percentiles.h>
#include <ohmtilt/curve/measurement_noise.h>
#include <ohmtilt/curve/minimum_phase.h>

#include <algorithm>
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

Found not_passive(const ImpedanceCurve& curve) {
  if (!curve.has_phase()) return {};
  std::vector<double> where;
  for (Index i = 0; i < curve.points(); ++i)
    // Half a degree beyond 90 is within what instruments err.
    if (std::cos(curve.phase_deg()[i] * degree) < -std::sin(0.5 * degree))
      where.push_back(curve.frequency_hz()[i]);
  if (where.empty()) return {};
  return Finding{"not-passive",
                 "the phase is beyond 90 degrees, so the resistance is negative, " + places(where),
                 where, "check the phase column; no earphone gives out power"};
}

/// A place where the curve does not go on as its neighbours do.
struct Break {
  Index index = 0;
  bool step = false;
};

/// The largest first; what its neighbours owe to it is not counted again. A lone point leaves -2/3
/// of its residual on either side, a step the opposite residual on one side and 1/3 on the other.
std::vector<Break> breaks(const ImpedanceCurve& curve) {
  const Array residual =
      neighbour_residual(curve.frequency_hz().log(), curve.magnitude_ohm().log());
  const double limit = std::max(10 * robust_deviation(residual), 0.012);
  Array size = residual.abs();
  std::vector<Break> found;
  Index at = 0;
  while (size.maxCoeff(&at) > limit && found.size() < 20) {
    const double before = at > 0 ? residual[at - 1] / residual[at] : 0;
    const double after = at + 1 < residual.size() ? residual[at + 1] / residual[at] : 0;
    found.push_back({at, std::min(before, after) < -0.85});
    for (Index i = std::max<Index>(0, at - 3); i <= std::min(at + 3, size.size() - 1); ++i)
      size[i] = 0;
  }
  std::sort(found.begin(), found.end(), [](Break a, Break b) { return a.index < b.index; });
  return found;
}

std::vector<double> break_hz(const ImpedanceCurve& curve, bool step) {
  std::vector<double> where;
  for (const Break& one : breaks(curve))
    if (one.step == step) where.push_back(curve.frequency_hz()[one.index]);
  return where;
}

Found outlier(const ImpedanceCurve& curve) {
  const auto where = break_hz(curve, false);
  if (where.empty()) return {};
  return Finding{"outlier", "single points stand off the curve, " + places(where), where,
                 "remove them or measure again there"};
}

Found step(const ImpedanceCurve& curve) {
  const auto where = break_hz(curve, true);
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

/// The coarsest of 5, 2, 1 times a power of ten that divides every value; 0 for none above least.
double common_step(const Array& values, double least) {
  for (int power = 3; power >= -4; --power)
    for (const double digit : {5.0, 2.0, 1.0}) {
      const double candidate = digit * std::pow(10.0, power);
      if (candidate < least) return 0;
      if (((values / candidate) - (values / candidate).round()).abs().maxCoeff() < 1e-6)
        return candidate;
    }
  return 0;
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
  const double noise = noise_percent(curve);
  if (noise <= 0.4 || points_an_octave(curve) < 12) return {};
  return Finding{"noisy",
                 fmt::format("neighbouring points scatter by {:.2g} % of |Z|", noise),
                 {},
                 "average more, raise the level within the earphone's limits, or smooth"};
}

/// Slope of the measured against the minimum phase, by least squares; nothing for a curve that
/// hardly turns. Near 1 when all is well.
std::optional<double> phase_slope(const ImpedanceCurve& curve) {
  const double octaves = std::log2(curve.range().high_hz / curve.range().low_hz);
  if (!curve.has_phase() || curve.points() < 8 || octaves < 1) return {};
  const Array least = minimum_phase(curve).phase_deg;
  if (least.abs().maxCoeff() < 2) return {};
  return (least * curve.phase_deg()).sum() / least.square().sum();
}

Found phase_sign(const ImpedanceCurve& curve) {
  const auto slope = phase_slope(curve);
  if (!slope || *slope > -0.3) return {};
  return Finding{"phase-sign",
                 "the phase has the wrong sign: it falls where |Z| rises",
                 {},
                 "turn the sign of the phase column"};
}

Found phase_radians(const ImpedanceCurve& curve) {
  const auto slope = phase_slope(curve);
  if (!slope || std::abs(*slope) > 2 * degree || std::abs(*slope) < degree / 2 ||
      curve.phase_deg().abs().maxCoeff() > std::numbers::pi / 2)
    return {};
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
  const bool flat = curve.magnitude_ohm().maxCoeff() < 100 * curve.magnitude_ohm().minCoeff();
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
  const bool level = middle > 60 && middle < 125 && values.maxCoeff() < 1.35 * middle;
  if (!level || last > 0.95 * middle) return {};
  return Finding{"looks-like-response",
                 "the values look like levels in dB and fall at the top as responses do",
                 {},
                 "give the impedance file, or read this one as a response"};
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

std::vector<Finding> findings(const ImpedanceCurve& curve) {
  std::vector<Finding> all;
  for (const auto check :
       {not_passive, outlier, step, sparse, quantised, noisy, phase_sign, phase_radians, kilohm,
        looks_like_response, band_missing, magnitude_only})
    if (Found found = check(curve)) all.push_back(std::move(*found));
  return all;
}

}  // namespace ohmtilt
