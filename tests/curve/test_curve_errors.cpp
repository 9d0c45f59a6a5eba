// What the points of a curve tell of its own errors. How often the limits hold is tried by programs
// of their own (tests/bench/coverage.py, tests/outside/reference_coverage.py).
#include <gtest/gtest.h>

#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/percentiles.h>
#include <ohmtilt/curve/curve_errors.h>
#include <ohmtilt/curve/minimum_phase.h>

#include <cmath>
#include <random>

namespace ohmtilt {
namespace {

/// 16 ohm with a resonance of the Q at 1.5 kHz and a coil (invented).
ComplexArray resonant_ohm(const Array& hz, double q) {
  return hz.unaryExpr([q](double f) {
    return 16.0 + Complex(0, 2e-4 * f) + 20.0 / (1.0 + Complex(0, q) * (f / 1500 - 1500 / f));
  });
}

ImpedanceCurve noisy_curve(Eigen::Index points, double noise, unsigned seed, double q = 2) {
  const Array hz = log_grid({20, 20000}, points);
  const ComplexArray z = resonant_ohm(hz, q);
  std::mt19937_64 generator(seed);
  std::normal_distribution<double> normal;
  Array ohm = z.abs();
  for (double& value : ohm) value *= std::exp(noise * normal(generator));
  return {{}, hz, ohm, z.arg() / degree};
}

TEST(CurveErrors, FindTheNoiseThatWasAdded) {
  for (unsigned seed = 1; seed <= 10; ++seed)
    for (const double noise : {0.001, 0.003, 0.01, 0.03}) {
      const double found = std::sqrt(curve_errors(noisy_curve(480, noise, seed)).noise);
      EXPECT_NEAR(found / noise, 1, 0.2) << seed << ' ' << noise;
    }
}

TEST(CurveErrors, FindNoNoiseInAnExactCurve) {
  for (const double q : {0.5, 2.0, 8.0, 15.0})
    EXPECT_LT(std::sqrt(curve_errors(noisy_curve(480, 0, 1, q)).noise), 1e-4) << q;
}

TEST(CurveErrors, GrowWithTheGap) {
  double before = 0;
  for (const Eigen::Index points : {480, 120, 31, 12}) {
    const CurveErrors errors = curve_errors(noisy_curve(points, 0, 1));
    ASSERT_EQ(errors.gap_ln_f.size(), points - 1);
    const double widest = errors.gap_magnitude.maxCoeff();
    EXPECT_GT(widest, before) << points;
    before = widest;
  }
}

TEST(CurveErrors, KnowTheDigits) {
  const ImpedanceCurve exact = noisy_curve(120, 0, 1);
  const Array rounded = (exact.magnitude_ohm() * 10).round() / 10;
  const CurveErrors errors =
      curve_errors(ImpedanceCurve({}, exact.frequency_hz(), rounded, exact.phase_deg()));
  // A rectangular distribution of width 0.1 ohm (GUM, JCGM 100:2008, 4.3.7).
  EXPECT_NEAR(errors.rounding[0], std::pow(0.1 / rounded[0], 2) / 12, 1e-12);
  EXPECT_EQ(common_step((Array(3) << 0.5, 1.5, 4).finished(), 1e-6), 0.5);
  EXPECT_EQ(common_step((Array(3) << 0.5, 1.5, 4.00001).finished(), 1e-3), 0);
  // What is the same everywhere tells its digits no coarser than to a hundredth; zero tells none.
  EXPECT_EQ(rounding_step(Array::Zero(5)), 0);
  EXPECT_EQ(rounding_step(Array::Constant(5, 1000)), 10);
  EXPECT_NEAR(rounding_step(Array::Constant(5, 15.4)), 0.1, 1e-12);
}

// Levels read off a picture are whole pixels, on whatever axis: a rectangular distribution of that
// width (GUM, JCGM 100:2008, 4.3.7).
TEST(CurveErrors, KnowThePixelsOfAPicture) {
  const ImpedanceCurve exact = noisy_curve(120, 0, 1);
  const Array read = ((exact.magnitude_ohm().log() / 0.005).round() * 0.005).exp();
  const CurveErrors errors = curve_errors(ImpedanceCurve({}, exact.frequency_hz(), read));
  EXPECT_NEAR(errors.rounding[0], 0.005 * 0.005 / 12, 1e-9);
}

// What noise does between the points is counted with the noise, once.
TEST(CurveErrors, OfGapsGrowLittleByNoise) {
  for (unsigned seed = 1; seed <= 5; ++seed) {
    const double noise = 0.01;
    const CurveErrors errors = curve_errors(noisy_curve(480, noise, seed));
    EXPECT_LT(std::sqrt(percentile(errors.gap_magnitude, 0.5)), noise / 4) << seed;
  }
}

// At Q = 2/gap a resonance halfway has 1/sqrt(1 + 4) of its height at either point.
TEST(HiddenQuality, IsSaidWherePointsAreFarApart) {
  const auto curve = [](Eigen::Index points) { return noisy_curve(points, 0, 1); };
  ASSERT_TRUE(hidden_quality(curve(31)));
  EXPECT_NEAR(*hidden_quality(curve(31)), 2 / (std::log(1000.0) / 30), 1e-9);
  EXPECT_FALSE(hidden_quality(curve(480)));
}

TEST(CurveErrors, OfTwoPointsAreLarge) {
  const Array hz = (Array(2) << 100, 10000).finished(), ohm = (Array(2) << 16, 20).finished();
  const CurveErrors errors = curve_errors(ImpedanceCurve({}, hz, ohm), EndSpread{});
  ASSERT_EQ(errors.gap_magnitude.size(), 1);
  EXPECT_GT(std::sqrt(errors.gap_magnitude[0]), 0.1);
}

TEST(CurveErrors, LookAtABoundedNumberOfGaps) {
  const CurveErrors errors = curve_errors(noisy_curve(20000, 0.01, 3));
  EXPECT_LE(errors.gap_ln_f.size(), 600);
  EXPECT_NEAR(std::sqrt(errors.noise), 0.01, 0.002);
}

// SciPy: 8/pi^2 times the sum of e^-(kx)/k^2 over odd k to 1999.
TEST(CurveErrors, AnEndsPhaseFadesInwards) {
  EXPECT_NEAR(end_phase_profile(0), 1, 1e-12);
  EXPECT_NEAR(end_phase_profile(0.1), 0.8380478, 1e-6);
  EXPECT_NEAR(end_phase_profile(0.5), 0.5150406, 1e-6);
  EXPECT_NEAR(end_phase_profile(1), 0.3029107, 1e-6);
  EXPECT_NEAR(end_phase_profile(3), 0.0403670, 1e-6);
}

TEST(ExpectedPhase, HoldsTheTrueOne) {
  for (const double q : {0.5, 2.0, 8.0})
    for (const Eigen::Index points : {480, 120, 31}) {
      const ImpedanceCurve curve = noisy_curve(points, 0, 1, q);
      const ExpectedPhase expected = expected_phase(curve);
      const Array beyond =
          (curve.phase_deg() - expected.phase_deg).abs() - 4 * expected.standard_deg;
      EXPECT_LT(beyond.maxCoeff(), 0.5) << q << ' ' << points;
    }
}

}  // namespace
}  // namespace ohmtilt
