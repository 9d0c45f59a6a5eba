// What stated powers say of an amplifier's two limits.
#include <ohmtilt/analysis/level/power_claims.h>

#include <cmath>
#include <random>

#include "tests/analysis/levels.h"

namespace ohmtilt::test {
namespace {

PowerPoint point(double load_ohm, double watt, std::optional<double> duration_ms = continuous_ms,
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
  claims.push_back(point(16, 0.9, continuous_ms, 10));  // at 10 % distortion
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

// Not stated is not continuous: such a point may be a burst, and is neither fitted beside
// continuous ones nor ranked.
TEST(PowerClaims, DoNotRankAPointOfNoStatedDuration) {
  const auto unstated = point(16, 1.0, std::nullopt);
  const auto fit = fit_power_claims({unstated, point(32, 0.5), point(300, 0.0533)}, {0, {}, false});
  EXPECT_FALSE(fit.points[0].comparable);
  EXPECT_FALSE(fit.points[0].burst_gain_db);
  EXPECT_TRUE(fit.points[1].comparable);
  EXPECT_NEAR(fit.limits.open_volt, 4, 1e-2);
  EXPECT_NE(fit.warnings.at(0).find("duration not stated instead of continuous"),
            std::string::npos);
  const auto alone = fit_power_claims({unstated}, {0, {}, false});
  EXPECT_FALSE(alone.points[0].comparable);
  EXPECT_NEAR(alone.limits.open_volt, 4, 1e-12);
  EXPECT_FALSE(fit_power_claims({unstated, point(16, 0.1, std::nullopt)}, {0, {}, false})
                   .contradiction);  // two durations may stand behind them
}

// Ohm's law: 1.5 W into 32 ohm is 217 mA, 0.2 W into 16 ohm 112 mA, though the lower load draws no
// less of any amplifier.
TEST(PowerClaims, ThatNoAmplifierHasAreNamed) {
  const auto fit = fit_power_claims({point(32, 1.5), point(16, 0.2)}, {0.3, {}, false});
  ASSERT_TRUE(fit.contradiction);
  EXPECT_EQ(fit.contradiction->breaking, (std::vector<std::size_t>{0, 1}));
  // At best both are half of 20 lg(216.5/111.8) off.
  EXPECT_NEAR(fit.contradiction->error_db, 10 * std::log10(216.506 / 111.803), 1e-4);
  for (const char* part : {"217 mA", "112 mA", "1.5 W into 32 ohm", "0.2 W into 16 ohm"})
    EXPECT_NE(fit.warnings.at(0).find(part), std::string::npos) << fit.warnings[0];
  // Of several, the one without which the others agree, by its place in the file.
  auto claims = measured({4, 1, 0.2}, {8, 16, 32, 64, 300});
  claims.insert(claims.begin(), point(16, 5, 20));
  claims[4].watt /= 2;  // 64 ohm
  const auto odd = fit_power_claims(claims, {1, {}, false});
  ASSERT_TRUE(odd.contradiction);
  EXPECT_EQ(odd.contradiction->breaking, std::vector<std::size_t>{4});
  EXPECT_NE(odd.contradiction->text.find("without 0."), std::string::npos);
  // One load, two powers.
  EXPECT_TRUE(fit_power_claims({point(32, 1), point(32, 0.5)}, {1, {}, false}).contradiction);
}

/// E, Ro and I at random, and loads from 4 to 600 ohm.
struct RandomAmplifier {
  SourceLimits limits;
  std::vector<double> loads;
  explicit RandomAmplifier(std::mt19937_64& random) {
    const auto between = [&](double low, double high) {
      return low * std::pow(high / low, std::generate_canonical<double, 53>(random));
    };
    limits = {between(0.5, 10), between(0.1, 50), std::nullopt};
    if (random() % 3) limits.max_ampere = limits.open_volt / between(5, 600);
    for (unsigned i = 0; i <= 1 + random() % 6; ++i) loads.push_back(between(4, 600));
  }
};

// The points of an amplifier, rounded within the tolerance, are no contradiction, and the least
// error finds them no further off than they were moved.
TEST(PowerClaims, OfAnyAmplifierAreNoContradiction) {
  std::mt19937_64 random(14);
  for (int trial = 0; trial < 400; ++trial) {
    const RandomAmplifier amplifier(random);
    auto claims = measured(amplifier.limits, amplifier.loads);
    double most_db = 0;
    for (auto& claim : claims) {
      const double db = std::uniform_real_distribution(-0.49, 0.49)(random);
      most_db = std::max(most_db, std::abs(db));
      claim.watt *= std::pow(10, db / 10);
    }
    EXPECT_FALSE(contradiction(claims)) << trial;
    EXPECT_LE(least_error_db(claims), most_db + 1e-6) << trial;
  }
}

// Two powers are of one amplifier where voltage does not fall and current does not rise with the
// load; how far they are off otherwise, by hand.
TEST(PowerClaims, OfTwoLoadsFollowTheTwoMonotonies) {
  std::mt19937_64 random(15);
  for (int trial = 0; trial < 400; ++trial) {
    const double low = std::uniform_real_distribution(4.0, 100.0)(random);
    const double high = low * std::uniform_real_distribution(1.01, 10.0)(random);
    const double low_watt = std::uniform_real_distribution(0.01, 1.0)(random);
    const double high_watt = std::uniform_real_distribution(0.01, 1.0)(random);
    const double volts_db = 10 * std::log10(high_watt * high / (low_watt * low));
    const double amperes_db = 10 * std::log10(high_watt / high / (low_watt / low));
    const double wanted = std::max({0.0, -volts_db / 2, amperes_db / 2});
    EXPECT_NEAR(least_error_db({point(high, high_watt), point(low, low_watt)}), wanted, 1e-6);
  }
}

}  // namespace
}  // namespace ohmtilt::test
