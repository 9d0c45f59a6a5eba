// Axes: limits that hold the data, ticks that people read. Common practice, no source.
#include <gtest/gtest.h>
#include <plots/axis.h>

#include <cmath>
#include <limits>

namespace ohmtilt::plots {
namespace {

std::string texts(const Axis& axis) {
  std::string result;
  for (const Tick& tick : axis.ticks)
    if (!tick.text.empty()) result += (result.empty() ? "" : " ") + tick.text;
  return result;
}

void expect_sound(const Axis& axis) {
  EXPECT_TRUE(std::isfinite(axis.low) && std::isfinite(axis.high));
  EXPECT_LT(axis.low, axis.high);
  EXPECT_LT(axis.ticks.size(), 100u);
  for (const Tick& tick : axis.ticks) {
    EXPECT_GE(axis.fraction(tick.at), -1e-6);
    EXPECT_LE(axis.fraction(tick.at), 1 + 1e-6);
  }
}

TEST(FrequencyAxis, HasTheTicksPeopleRead) {
  const Axis axis = frequency_axis({20, 20000});
  EXPECT_EQ(texts(axis), "20 50 100 200 500 1k 2k 5k 10k 20k");
  EXPECT_DOUBLE_EQ(axis.low, 20);
  EXPECT_DOUBLE_EQ(axis.high, 20000);
  EXPECT_NEAR(axis.fraction(std::sqrt(20.0 * 20000)), 0.5, 1e-12);
}

TEST(FrequencyAxis, ClosesAroundNarrowData) {
  EXPECT_EQ(texts(frequency_axis({300, 3400})), "200 500 1k 2k 5k");
  EXPECT_EQ(texts(frequency_axis({25, 18000})), "20 50 100 200 500 1k 2k 5k 10k 20k");
  for (const Band band : {Band{1000, 1000}, Band{999, 1001}, Band{0.01, 1e6}, Band{17.8, 22400}}) {
    const Axis axis = frequency_axis(band);
    expect_sound(axis);
    EXPECT_LE(axis.low, band.low_hz * (1 + 1e-9));
    EXPECT_GE(axis.high, band.high_hz * (1 - 1e-9));
  }
}

TEST(DeviationAxis, HoldsZeroAndIsNeverNarrow) {
  for (const double db : {0.0, 0.05, -0.05, 1.0, -15.0, 15.0}) {
    Limits limits;
    limits.add(db);
    const Axis axis = deviation_axis(limits);
    expect_sound(axis);
    EXPECT_GE(axis.high - axis.low, 1);
    EXPECT_GT(axis.fraction(0), 0.05);
    EXPECT_LT(axis.fraction(0), 0.95);
    EXPECT_GT(axis.fraction(db), 0.05);
    EXPECT_LT(axis.fraction(db), 0.95);
    EXPECT_GE(axis.ticks.size(), 3u);
  }
  EXPECT_EQ(texts(deviation_axis(Limits{-2.1, 3.2, false})), "-2 -1 0 +1 +2 +3");
}

TEST(LogAxis, IsAtLeastAnOctaveWithThreeTicks) {
  for (const auto& [low, high] : {std::pair{16.0, 16.0},
                                  {16.0, 16.5},
                                  {3.0, 3000.0},
                                  {9.0, 31.0},
                                  {12.0, 25.0},
                                  {13.6, 14.2},
                                  {4.3, 30.0}}) {
    const Axis axis = log_axis(Limits{low, high, false}, "ohm");
    expect_sound(axis);
    EXPECT_GE(axis.high / axis.low, 2 * (1 - 1e-9));
    EXPECT_GE(axis.fraction(low), 0.0);
    EXPECT_LE(axis.fraction(high), 1.0);
    const std::string found = texts(axis);
    EXPECT_GE(std::count(found.begin(), found.end(), ' '), 2) << low << ": " << found;
  }
}

TEST(DegreeAxis, IsSymmetricAroundZero) {
  for (const double degrees : {0.0, 5.0, 36.0, 45.0, 60.0, 90.0, 170.0, 1000.0}) {
    const Axis axis = degree_axis(Limits{-degrees, degrees / 2, false});
    expect_sound(axis);
    EXPECT_DOUBLE_EQ(axis.low, -axis.high);
    EXPECT_GT(axis.high, degrees);
    EXPECT_EQ(axis.ticks.size(), 3u) << degrees;
  }
}

TEST(Limits, PassOverWhatIsNotFinite) {
  Limits limits;
  Array values(4);
  values << std::numeric_limits<double>::quiet_NaN(), 1, std::numeric_limits<double>::infinity(),
      -2;
  limits.add(values);
  EXPECT_EQ(limits.low, -2);
  EXPECT_EQ(limits.high, 1);
  expect_sound(linear_axis(Limits{}, {}));
  expect_sound(log_axis(Limits{}, "ohm"));
}

TEST(FrequencyText, IsShort) {
  EXPECT_EQ(hz_text(1000), "1 kHz");
  EXPECT_EQ(hz_text(50), "50 Hz");
  EXPECT_EQ(hz_text(3127.64), "3.128 kHz");
  EXPECT_EQ(short_hz(12500), "12.5k");
}

}  // namespace
}  // namespace ohmtilt::plots
