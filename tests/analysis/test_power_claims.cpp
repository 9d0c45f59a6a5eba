// What stated powers say of an amplifier's two limits.
#include <ohmtilt/analysis/level/power_claims.h>

#include <cmath>

#include "tests/analysis/levels.h"

namespace ohmtilt::test {
namespace {

PowerPoint point(double load_ohm, double watt, std::optional<double> duration_ms = {},
                 double distortion_percent = 1) {
  return {load_ohm, watt, duration_ms, distortion_percent, std::nullopt, ""};
}

/// Points that an amplifier of those limits would be measured to have.
std::vector<PowerPoint> measured(const SourceLimits& limits, const std::vector<double>& loads) {
  std::vector<PowerPoint> points;
  for (const double ohm : loads) points.push_back(point(ohm, largest_power(limits, ohm).watt));
  return points;
}

TEST(LargestPower, IsOhmsLaw) {
  const SourceLimits limits{4, 1, 0.1};
  EXPECT_NEAR(largest_power(limits, 300).watt, std::pow(4 * 300 / 301.0, 2) / 300, 1e-15);
  EXPECT_EQ(largest_power(limits, 300).limited_by, Limit::voltage);
  EXPECT_NEAR(largest_power(limits, 16).watt, 0.16, 1e-15);
  EXPECT_EQ(largest_power(limits, 16).limited_by, Limit::current);
  // Half the load does not mean twice the power: under the current limit it is half.
  EXPECT_NEAR(largest_power(limits, 8).watt, largest_power(limits, 16).watt / 2, 1e-15);
}

TEST(PowerClaims, GiveBackTheLimitsTheyWereMadeOf) {
  for (const SourceLimits& made :
       {SourceLimits{4, 1.5, 0.2}, SourceLimits{7, 0.4, 0.31}, SourceLimits{2, 10, 0.02}}) {
    const auto fit = fit_power_claims(measured(made, {300, 8, 64, 16, 32, 150}), {0.1, {}, false});
    EXPECT_NEAR(fit.limits.open_volt, made.open_volt, 1e-9);
    EXPECT_NEAR(fit.limits.output_ohm, made.output_ohm, 1e-7);
    ASSERT_TRUE(fit.limits.max_ampere);
    EXPECT_NEAR(*fit.limits.max_ampere, *made.max_ampere, 1e-12);
    EXPECT_TRUE(fit.output_fitted);
    EXPECT_NEAR(fit.rms_error_db, 0, 1e-9);
    for (const auto& judged : fit.points) {
      EXPECT_EQ(judged.limited_by, largest_power(made, judged.claim.load_ohm).limited_by);
      EXPECT_NEAR(judged.predicted_watt / judged.claim.watt, 1, 1e-9);
      EXPECT_TRUE(judged.comparable);
    }
  }
}

TEST(PowerClaims, WithoutCurrentLimitHaveNone) {
  const auto fit =
      fit_power_claims(measured({4, 0.3, std::nullopt}, {16, 32, 300}), {0.3, {}, false});
  EXPECT_FALSE(fit.limits.max_ampere);
  EXPECT_NEAR(fit.limits.open_volt, 4, 1e-12);
  EXPECT_FALSE(fit.output_fitted);
}

TEST(PowerClaims, OfTwoPointsUseTheStatedOutput) {
  // By hand: 16 ohm 0.4 W is 158 mA; 32 ohm 0.48 W is 3.919 V, with 0.3 ohm 3.956 V open.
  const auto fit = fit_power_claims({point(16, 0.4), point(32, 0.48)}, {0.3, 4.0, false});
  EXPECT_NEAR(*fit.limits.max_ampere, std::sqrt(0.4 / 16), 1e-12);
  EXPECT_NEAR(fit.limits.open_volt, std::sqrt(0.48 * 32) * 32.3 / 32, 1e-12);
  EXPECT_EQ(fit.points[0].limited_by, Limit::current);
  EXPECT_EQ(fit.points[1].limited_by, Limit::voltage);
}

TEST(PowerClaims, OfOnePointLeanOnTheStatedVoltage) {
  const auto sagging = fit_power_claims({point(16, 0.1)}, {0, 4.0, false});
  EXPECT_EQ(sagging.points[0].limited_by, Limit::current);
  EXPECT_NEAR(*sagging.limits.max_ampere, std::sqrt(0.1 / 16), 1e-12);
  const auto full = fit_power_claims({point(16, 1.0)}, {0, 4.0, false});
  EXPECT_EQ(full.points[0].limited_by, Limit::voltage);
  EXPECT_FALSE(full.limits.max_ampere);
}

TEST(PowerClaims, AreNotRankedAcrossConditions) {
  auto claims = measured({4, 0.3, std::nullopt}, {32, 300});
  claims.push_back(point(32, 2 * claims[0].watt, 20));  // a burst of twice the power
  claims.push_back(point(16, 0.9, std::nullopt, 10));   // at 10 % distortion
  claims.push_back(point(64, 0.24));
  claims.back().balanced = true;
  claims.push_back(point(64, 0.24));
  claims.back().supply = "12 V";
  const auto fit = fit_power_claims(claims, {0.3, {}, false});
  EXPECT_NEAR(fit.limits.open_volt, 4, 1e-12);
  EXPECT_TRUE(fit.points[0].comparable && fit.points[1].comparable);
  for (std::size_t i = 2; i < 6; ++i) EXPECT_FALSE(fit.points[i].comparable) << i;
  // Twice the power is 3.01 dB.
  EXPECT_NEAR(*fit.points[2].burst_gain_db, 3.0103, 1e-4);
  EXPECT_FALSE(fit.points[3].burst_gain_db);
  ASSERT_EQ(fit.warnings.size(), 4u);
  EXPECT_NE(fit.warnings[0].find("20 ms burst instead of continuous"), std::string::npos);
  EXPECT_NE(fit.warnings[1].find("10 % distortion instead of 1 % distortion"), std::string::npos);
  EXPECT_NE(fit.warnings[2].find("balanced instead of single-ended"), std::string::npos);
  EXPECT_NE(fit.warnings[3].find("supply 12 V instead of supply not stated"), std::string::npos);
}

TEST(PowerClaims, PutContinuousBeforeBursts) {
  const auto fit =
      fit_power_claims({point(16, 2, 20), point(32, 1.5, 20), point(32, 0.5)}, {0, {}, false});
  EXPECT_FALSE(fit.points[0].comparable);
  EXPECT_TRUE(fit.points[2].comparable);
  EXPECT_NEAR(fit.limits.open_volt, 4, 1e-12);
}

}  // namespace
}  // namespace ohmtilt::test
