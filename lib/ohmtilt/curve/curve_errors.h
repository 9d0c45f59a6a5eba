#pragma once
// What a measured curve leaves open of ln|Z| and of its phase: at its points, between them, and at
// its ends.
#include <ohmtilt/curve/impedance_curve.h>

#include <optional>

namespace ohmtilt {

struct MinimumPhase;

/// Variances of the error of LogInterpolator through the curve's points: of ln|Z| in nepers
/// squared, of the phase in radians squared.
struct CurveErrors {
  double noise = 0;           ///< of one datum, as the points themselves show it; both axes
  Array rounding;             ///< one per datum: what the digits of the magnitude leave open
  double phase_rounding = 0;  ///< of one datum, radians squared
  /// Halfway between two points, for at most 600 gaps, by rising frequency; all else lies near one.
  /// Resonances within a gap, which no point shows, are allowed for by its width.
  Array gap_ln_f, gap_width;       ///< middle and width in ln f
  Array gap_magnitude, gap_phase;  ///< phase: 0 without one
  /// Standard uncertainty of the minimum phase at the lowest and highest datum in radians, from
  /// what lies beyond; 0 for a curve with phase.
  double lower_end = 0, upper_end = 0;
};

/// How far the phases of minimum_phase() lie from the best one at the lowest and highest datum,
/// radians: the largest of them.
struct EndSpread {
  double lower_rad = 0, upper_rad = 0;
};
EndSpread end_spread(const MinimumPhase& phase);

/// A Gaussian process over ln f for the analytic function ln Z ([Rasmussen2006] 2.2 and 5.4; as a
/// prior of impedances: [Liu2020]). Its covariance is a sum of 1/(1 + (u/2d)^2), which is
/// what singularities of ln Z at the distance d = 1/(2Q) from the axis leave on it. Roughness (Q),
/// amplitude and noise are weighed by their marginal likelihood over blocks of the curve; where too
/// few points tell noise from structure, noise up to 2 % stays possible. The interpolation's own
/// departure from the process' mean counts as error.
///
/// spread, for a curve without its own phase: it makes the ends' uncertainty, with the residual of
/// a straight line near the end and the phase that a coil may have whose effect on |Z| drowns in
/// the noise, x for x^2/2; the weights were fitted to errors over invented earphones
/// (tests/bench/coverage.py).
CurveErrors curve_errors(const ImpedanceCurve& curve,
                         const std::optional<EndSpread>& spread = std::nullopt);

/// Variance of the phase that is computed from gapped magnitudes, in radians squared at ln_f: the
/// Hilbert transform of their error, which has its variance but reaches into the neighbourhood.
Array phase_variance_of_gaps(const CurveErrors& errors, const Array& ln_f);

/// The phase that the magnitudes alone would have, and how well they tell it.
struct ExpectedPhase {
  Array phase_deg;
  Array standard_deg;  ///< one standard uncertainty, one per datum
};

/// Of the curve without its own phase; its range must be wide enough for minimum_phase().
ExpectedPhase expected_phase(const ImpedanceCurve& curve);

/// The part of the error at an end of the data that is left at distance ln_f >= 0 inside them, for
/// a slope of ln|Z| beyond the end that is wrong by a constant: 1 at 0, like 8/pi^2 e^-x far away.
double end_phase_profile(double ln_f);

/// The quality factor above which a resonance can lie in the curve's widest gap, within 20 Hz to
/// 20 kHz, with less than half of its height at either point: 2 over the gap in ln f. Nothing where
/// that is 20 or more, which earphones hardly reach (common knowledge, no source).
std::optional<double> hidden_quality(const ImpedanceCurve& curve);

/// The largest of 5, 2, 1 times a power of ten, at least `least`, that divides every value and is
/// no larger than their range or a hundredth of the largest; 0 for none.
double common_step(const Array& values, double least);
/// The step that values were rounded to; 0 where they have seven digits or more.
double rounding_step(const Array& values);

}  // namespace ohmtilt
