#include <ohmtilt/base/decibel.h>
#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/text/error.h>

#include <gmock/gmock.h>

#include <cmath>

#include "tests/support.h"

namespace ohmtilt {
namespace {

using testing::HasSubstr;

Array array(std::initializer_list<double> values) {
  return Eigen::Map<const Array>(values.begin(), static_cast<Eigen::Index>(values.size()));
}

const Array uneven_hz = array({20, 31, 50, 51, 400, 2000, 2600, 20000});
const Array uneven = array({3, 3, 7, -2, -2, 5, 5.5, 40});

TEST(LogInterpolator, PassesThroughEveryPointExactly) {
  const LogInterpolator curve(uneven_hz, uneven);
  EXPECT_TRUE((curve.at(uneven_hz) == uneven).all());
}

TEST(LogInterpolator, TakesADatumWithin1e9AndInterpolatesBeyond) {
  const LogInterpolator curve(uneven_hz, uneven);
  EXPECT_EQ(curve.at(50 * (1 + 9e-10)), 7);
  EXPECT_EQ(curve.at(20 * (1 - 9e-10)), 3);  // the rounding of a written end is not extrapolation
  EXPECT_LT(curve.at(50 * (1 + 1e-3)), 7);
}

TEST(LogInterpolator, NeverOvershootsBetweenTwoPoints) {
  const LogInterpolator curve(uneven_hz, uneven);
  const Array hz = log_grid({20, 20000}, 5000);
  for (const double f : hz) {
    const Eigen::Index right = (uneven_hz <= f).count();
    if (right == uneven_hz.size()) continue;
    const double a = uneven[right - 1], b = uneven[right];
    EXPECT_GE(curve.at(f), std::min(a, b)) << f;
    EXPECT_LE(curve.at(f), std::max(a, b)) << f;
  }
}

// A straight line in ln f is what |Z| = c f^n and a constant phase give; the values are its own.
TEST(LogInterpolator, IsExactForAStraightLineInLnF) {
  for (const Eigen::Index points : {2, 3, 4, 9}) {
    const Array hz = log_grid({10, 40000}, points);
    const LogInterpolator curve(hz, 0.7 * hz.log() - 3);
    const Array between = log_grid({11, 39000}, 333);
    EXPECT_LT((curve.at(between) - (0.7 * between.log() - 3)).abs().maxCoeff(), 1e-13) << points;
  }
}

TEST(LogInterpolator, DrawsStraightLinesBelowFourPoints) {
  const LogInterpolator curve(array({1, 10, 1000}), array({0, 1, -1}));
  EXPECT_NEAR(curve.at(std::sqrt(10.0)), 0.5, 1e-15);
  EXPECT_NEAR(curve.at(100), 0, 1e-15);
}

TEST(LogInterpolator, RefusesToExtrapolateAndNamesTheRange) {
  const LogInterpolator curve(uneven_hz, uneven);
  for (const double f : {19.9, 20001.0, 0.0, -1.0, std::nan("")}) {
    try {
      curve.at(f);
      FAIL() << f;
    } catch (const InputError& error) {
      EXPECT_THAT(error.what(), HasSubstr("from 20 to 20000 Hz"));
    }
  }
}

TEST(LogInterpolator, RefusesPointsThatAreNotACurve) {
  EXPECT_THROW(LogInterpolator(array({1}), array({1})), InputError);
  EXPECT_THROW(LogInterpolator(array({1, 2}), array({1})), InputError);
  EXPECT_THROW(LogInterpolator(array({1, 1}), array({1, 2})), InputError);
  EXPECT_THROW(LogInterpolator(array({2, 1}), array({1, 2})), InputError);
  EXPECT_THROW(LogInterpolator(array({0, 1}), array({1, 2})), InputError);
  EXPECT_THROW(LogInterpolator(array({1, 2}), array({1, std::nan("")})), InputError);
}

TEST(LogInterpolator, BearsNeighboursThatRoundToOneLogarithm) {
  const double f = 20000, next = std::nextafter(f, 1e9);
  const LogInterpolator curve(array({20, 200, f, next, 30000}), array({1, 2, 3, 4, 5}));
  EXPECT_EQ(curve.at(next), 4);
  EXPECT_GT(curve.at(25000), 4);
}

TEST(LogInterpolator, ServesAMillionPoints) {
  const Array hz = log_grid({20, 20000}, 1000000);
  const LogInterpolator curve(hz, hz.log());
  const Array asked = log_grid({20, 20000}, 480);
  EXPECT_LT((curve.at(asked) - asked.log()).abs().maxCoeff(), 1e-12);
}

TEST(UnwrappedDeg, RemovesWholeTurnsOnly) {
  const Array phase = unwrapped_deg(array({170, -170, -150, 160, 179, -179}));
  EXPECT_TRUE(phase.isApprox(array({170, 190, 210, 160, 179, 181}), 1e-14)) << phase;
  EXPECT_EQ(unwrapped_deg(Array()).size(), 0);
}

// Z = k (jw)^n: ln|Z| and phase are straight over ln f, so every frequency is exact (closed form).
TEST(OnePortOfCurve, IsExactForAPowerLaw) {
  const Array hz = log_grid({20, 20000}, 7);
  const double n = 0.7;
  const OnePort port =
      one_port(ImpedanceCurve({}, hz, 0.02 * hz.pow(n), Array::Constant(hz.size(), 90 * n - 360)));
  for (const double f : log_grid({20, 20000}, 50)) {
    const Complex exact = std::polar(0.02 * std::pow(f, n), 90 * n * degree);
    EXPECT_LT(std::abs(port.at(f) - exact), 1e-13 * std::abs(exact)) << f;
  }
}

TEST(OnePortOfCurve, GivesTheDatumItselfWhereTheGridsCoincide) {
  const ImpedanceCurve curve({}, uneven_hz, uneven.abs(), uneven * 2);
  const ComplexArray z = one_port(curve).at(uneven_hz);
  EXPECT_TRUE((z == curve.impedance_ohm()).all());
  EXPECT_EQ(one_port(curve).range().low_hz, 20);
}

TEST(OnePortOfCurve, CrossesTheHalfTurnTheShortWay) {
  const OnePort port =
      one_port(ImpedanceCurve({}, array({100, 1000}), array({5, 5}), array({170, -170})));
  EXPECT_NEAR(port.at(std::sqrt(1e5)).real(), -5, 1e-12);
}

TEST(OnePortOfCurve, RefusesACurveWithoutPhaseAndFrequenciesOutside) {
  const ImpedanceCurve bare({}, array({100, 1000}), array({5, 6}));
  EXPECT_THROW(one_port(bare), InputError);
  EXPECT_THROW(one_port(bare.with_phase(array({0, 0}))).at(99.0), InputError);
}

}  // namespace
}  // namespace ohmtilt
