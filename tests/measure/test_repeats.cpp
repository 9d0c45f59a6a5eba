// Means of repeated measurements: random parts fall with their number, steady ones stay.
#include <gmock/gmock.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/measure/repeats.h>
#include <ohmtilt/text/error.h>
#include <cmath>
#include <random>

namespace ohmtilt {
namespace {

Array grid(Eigen::Index points) {
  return (Array::LinSpaced(points, std::log(20.0), std::log(20000.0))).exp();
}

/// 30 ohm and a coil, with an error common to all takes and noise of its own, in ohm per axis.
ImpedanceCurve take(std::mt19937& chance, Complex common, double noise) {
  std::normal_distribution<double> normal(0, noise);
  const Array hz = grid(300);
  ComplexArray z(hz.size());
  for (Eigen::Index i = 0; i < hz.size(); ++i)
    z[i] = Complex(30, hz[i] * 1e-3) + common + Complex(normal(chance), normal(chance));
  const double u = std::hypot(0.1, noise);
  return {CurveNotes{"take", "", "", "", 0}, hz, z.abs(), z.arg() / degree,
          Array::Constant(300, u)};
}

// Source: the variance of a mean of n independent values is that of one over n (any textbook of
// statistics); COMPUTED by trials here.
TEST(Repeats, RandomPartsFallAndSteadyOnesStay) {
  std::mt19937 chance(5);
  std::vector<ImpedanceCurve> takes;
  for (int i = 0; i < 8; ++i) takes.push_back(take(chance, 0, 0.3));
  const RepeatedCurve mean = mean_of_repeats(takes);
  EXPECT_NEAR(mean.random_ohm.square().mean(), 0.09, 0.01);
  EXPECT_NEAR(mean.curve.uncertainty_ohm().mean(), std::sqrt(0.01 + 0.09 / 8), 0.02);
  EXPECT_EQ(mean.curve.points(), 300);
}

// 95 % of the truth within two standard uncertainties, common error (of 0.1 ohm) included.
TEST(Repeats, CoverAsStated) {
  std::mt19937 chance(20261128);
  std::normal_distribution<double> normal(0, 0.1);
  int inside = 0, all = 0;
  for (int trial = 0; trial < 300; ++trial) {
    const Complex common(normal(chance), normal(chance));
    std::vector<ImpedanceCurve> takes;
    for (int i = 0; i < 2 + trial % 4; ++i) takes.push_back(take(chance, common, 0.15));
    const RepeatedCurve mean = mean_of_repeats(takes);
    const ComplexArray z = mean.curve.impedance_ohm();
    for (Eigen::Index i = 0; i < z.size(); i += 37, ++all)
      inside += std::abs(z[i].real() - 30) <= 2 * mean.curve.uncertainty_ohm()[i] ? 1 : 0;
  }
  EXPECT_NEAR(static_cast<double>(inside) / all, 0.95, 0.03);
}

TEST(Repeats, OneTakeStaysAsItIs) {
  std::mt19937 chance(1);
  const ImpedanceCurve one = take(chance, 0, 0.3);
  const RepeatedCurve mean = mean_of_repeats({one});
  EXPECT_TRUE((mean.curve.uncertainty_ohm() - one.uncertainty_ohm()).abs().maxCoeff() < 1e-12);
  EXPECT_TRUE((mean.curve.magnitude_ohm() - one.magnitude_ohm()).abs().maxCoeff() < 1e-12);
  EXPECT_THROW(mean_of_repeats({}), InputError);
}

TEST(Repeats, SayHowManyAreNeeded) {
  std::mt19937 chance(3);
  std::vector<ImpedanceCurve> takes;
  for (int i = 0; i < 4; ++i) takes.push_back(take(chance, 0, 0.3));
  const RepeatedCurve mean = mean_of_repeats(takes);
  const double all = stated_percent(mean.curve, mean.curve.uncertainty_ohm());
  EXPECT_LE(takes_needed(mean, all), 4);
  const int more = takes_needed(mean, 0.8 * all);
  EXPECT_GT(more, 4);
  const Array then = (mean.steady_ohm.square() + mean.random_ohm.square() / more).sqrt();
  EXPECT_LE(stated_percent(mean.curve, then), 0.8 * all);
  EXPECT_EQ(takes_needed(mean, 0.05), 0);  // 0.1 ohm of 30 stay whatever is repeated
}

TEST(Repeats, TheDifferenceOfTwoSides) {
  std::mt19937 chance(4);
  const ImpedanceCurve left = take(chance, 0, 0.01), alike = take(chance, 0, 0.01);
  const CurveDifference none = difference_of(left, alike);
  EXPECT_FALSE(none.seen);
  EXPECT_LT(none.percent.abs().maxCoeff(), 1);
  const ImpedanceCurve right = take(chance, 3, 0.01);
  const CurveDifference some = difference_of(left, right);
  EXPECT_TRUE(some.seen);
  EXPECT_NEAR(some.percent[0], 10, 0.5);
  EXPECT_NEAR(some.uncertainty_95[0], 100.0 * 2 * 0.1005 / 30 * std::sqrt(1.1 * 1.1 + 1), 0.05);
}

}  // namespace
}  // namespace ohmtilt
