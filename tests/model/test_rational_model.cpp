#include <ohmtilt/model/rational_model.h>
#include <ohmtilt/text/error.h>

#include <numbers>

#include "tests/support.h"

namespace {
using namespace ohmtilt;
using test::pi;

/// R + parallel R1 L C: peak ohm, Q, resonance in rad/s.
RationalModel tank(double series_ohm, double peak_ohm, double q, double w0) {
  // peak (w0/q) s / (s^2 + s w0/q + w0^2)
  const double damping = w0 / (2 * q);
  RationalModel model;
  model.constant = series_ohm;
  if (q > 0.5) {
    const Complex pole(-damping, w0 * std::sqrt(1 - 1 / (4 * q * q)));
    const Complex residue = peak_ohm * (w0 / q) * pole / (pole - std::conj(pole));
    model.pairs.push_back({pole, residue});
  }
  return model;
}

TEST(RationalModel, TankAtItsResonanceAndFarFromIt) {
  const auto model = tank(10, 30, 4, 1000);
  EXPECT_NEAR(std::abs(evaluate(model, Complex(0, 1000)) - Complex(40, 0)), 0, 1e-12);
  EXPECT_NEAR(std::abs(evaluate(model, Complex(0, 1e-6)) - Complex(10, 0)), 0, 1e-6);
  EXPECT_NEAR(std::abs(evaluate(model, Complex(0, 1e12)) - Complex(10, 0)), 0, 1e-6);
}

// R. H. Small, J. Audio Eng. Soc. 20(5), 1972 (from memory): with a source Rs, Qes' = Qes (Re +
// Rs)/Re and Qts' from both; the zeros of Z + Rs carry that Q at the same frequency.
TEST(RationalModel, ZerosBehindAResistanceCarryTheTotalQ) {
  for (const auto& row : test::csv_rows(test::data("ts_series_resistance.csv"))) {
    if (row.at("driver") != "A") continue;
    const double re = 6.18, res = 21.62, henry = 6.88e-3, farad = 302.84e-6;
    const double w0 = 1 / std::sqrt(henry * farad);
    const auto found = zeros(tank(re, res, w0 * farad * res, w0), std::stod(row.at("Rs_ohm")));
    ASSERT_EQ(found.size(), 2U);
    EXPECT_NEAR(mode(found[0]).q, std::stod(row.at("Qts_poles")), 1e-6);
    EXPECT_NEAR(mode(found[0]).hz, w0 / (2 * pi), 1e-9);
  }
}

TEST(RationalModel, ZerosApproachThePolesBehindAnInfiniteSource) {
  const auto model = tank(10, 30, 4, 1000);
  EXPECT_NEAR(std::abs(zeros(model, 1e12)[0] - poles(model)[0]), 0, 1e-6);
}

TEST(RationalModel, InductanceAddsAZero) {
  // R + sL: one zero at -R/L.
  RationalModel model;
  model.constant = 8;
  model.proportional = 1e-3;
  ASSERT_EQ(zeros(model, 2).size(), 1U);
  EXPECT_NEAR(zeros(model, 2)[0].real(), -1e4, 1e-9);
}

TEST(RationalModel, StrictlyProperHasOneZeroLess) {
  // 1/(s+1) + 1/(s+3) = 2 (s+2)/((s+1)(s+3)).
  RationalModel model;
  model.real = {{-1, 1}, {-3, 1}};
  ASSERT_EQ(zeros(model).size(), 1U);
  EXPECT_NEAR(zeros(model)[0].real(), -2, 1e-14);
}

TEST(RationalModel, AnImpedanceOfNothingIsRefused) {
  EXPECT_THROW(zeros(RationalModel{}), InputError);
  RationalModel fast;  // 1/((s+1)(s+2)): falls as 1/s^2
  fast.real = {{-1, 1}, {-2, -1}};
  EXPECT_THROW(zeros(fast), InputError);
}

RationalModel rich() {
  RationalModel model = tank(10, 30, 4, 1e3);
  model = sum(model, tank(0, 12, 2, 2e4));
  model.real = {{-50, 200}, {-4e5, -4e5}};
  return model;
}

TEST(RationalModel, AtItsZerosItIsZero) {
  RationalModel model = rich();
  for (const double proportional : {0.0, 1e-4})
    for (const double ohm : {0.0, 3.0, 1000.0}) {
      model.proportional = proportional;
      const auto found = zeros(model, ohm);
      EXPECT_EQ(found.size(), proportional > 0 ? 7U : 6U);
      for (const Complex s : found)
        EXPECT_LT(std::abs(evaluate(model, s) + ohm),
                  1e-11 * (1 + std::abs(s * derivative(model, s))));
    }
}

TEST(RationalModel, ReciprocalAndQuotientInvert) {
  const Array hz = Array::LinSpaced(50, std::log(10.0), std::log(1e5)).exp();
  for (RationalModel model : {rich(), tank(10, 30, 4, 1e3)}) {
    for (const double proportional : {0.0, 1e-4}) {
      model.proportional = proportional;
      const ComplexArray z = evaluate(model, hz), y = evaluate(reciprocal(model), hz);
      EXPECT_LT((z * y - 1.0).abs().maxCoeff(), 1e-11);
      RationalModel source;
      source.constant = 6;
      const auto loop = sum(model, source);
      const auto ratio = quotient(model, loop, zeros(loop));
      EXPECT_EQ(ratio.order(), static_cast<Eigen::Index>(zeros(loop).size()));
      EXPECT_LT((evaluate(ratio, hz) - z / (z + 6.0)).abs().maxCoeff(), 1e-11);
    }
  }
  RationalModel proper;
  proper.real = {{-1, 1}, {-3, 1}};
  EXPECT_LT((evaluate(proper, hz) * evaluate(reciprocal(proper), hz) - 1.0).abs().maxCoeff(),
            1e-12);
}

TEST(RationalModel, QuotientAtInfinity) {
  const Array hz = Array::LinSpaced(50, std::log(10.0), std::log(1e5)).exp();
  const auto held = [&](const RationalModel& a, const RationalModel& b) {
    const ComplexArray want = evaluate(a, hz) / evaluate(b, hz);
    EXPECT_LT(((evaluate(quotient(a, b, zeros(b)), hz) - want) / want).abs().maxCoeff(), 1e-11);
  };
  RationalModel falling, level = rich(), rising = rich();  // as 1/s, to a constant, as s
  falling.real = {{-300, 2e3}, {-7e3, 1e4}};
  level.proportional = 0;
  rising.proportional = 1e-3;
  // The numerator's own poles stay, where the denominator lacks them; b and b share all of them.
  RationalModel apart;
  apart.constant = 2;
  apart.real = {{-1500, 4e3}};
  apart.pairs = {{Complex(-900, 5e3), Complex(2e3, 300)}};
  for (const auto& b : {falling, level, rising}) {
    held(b, b);
    held(falling, b);
    held(apart, b);
  }
  held(rising, level);
  held(rising, rising);
  EXPECT_THROW(quotient(rising, falling, zeros(falling)), InputError);
}

TEST(RationalModel, DerivativeIsTheSlope) {
  const auto model = rich();
  const Complex s(-30, 700), step(1e-3, 0);
  const Complex numeric = (evaluate(model, s + step) - evaluate(model, s - step)) / (2.0 * step);
  EXPECT_LT(std::abs(numeric - derivative(model, s)), 1e-8 * std::abs(numeric) + 1e-9);
}

TEST(RationalModel, SumMergesEqualPoles) {
  const auto twice = sum(rich(), rich());
  EXPECT_EQ(twice.order(), rich().order());
  EXPECT_NEAR(std::abs(evaluate(twice, Complex(0, 500)) - 2.0 * evaluate(rich(), Complex(0, 500))),
              0, 1e-10);
}

TEST(RationalModel, ModeOfARealPoleHasHalfQ) {
  EXPECT_DOUBLE_EQ(mode(Complex(-2 * pi * 5, 0)).q, 0.5);
  EXPECT_DOUBLE_EQ(mode(Complex(-2 * pi * 5, 0)).hz, 5);
  EXPECT_TRUE(std::isinf(mode(Complex(0, 3)).q));
}

}  // namespace
