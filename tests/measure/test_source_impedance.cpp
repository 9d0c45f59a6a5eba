#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <ohmtilt/measure/source_impedance.h>
#include <ohmtilt/text/error.h>
#include <cmath>
#include <limits>
#include <random>

namespace ohmtilt {
namespace {

const double open = std::numeric_limits<double>::infinity();

LoadReading reading(double source_ohm, double load_ohm) {
  return {load_ohm, 1 / (1 + source_ohm / load_ohm)};
}
/// One standard uncertainty of 0.1 % on every reading and load.
SourceAccuracy tenth_percent() {
  SourceAccuracy accuracy;
  accuracy.meter_percent = accuracy.load_percent = 0.1 * std::sqrt(3.0);
  return accuracy;
}

// The two-load table, computed in Python from R = R1 R2 (V1 - V2)/(V2 R1 - V1 R2) and
// R = R2 (V0/V2 - 1) by linear propagation; 0.1 % (one sigma, independent) on each.
TEST(SourceImpedance, TwoLoadTable) {
  struct Row {
    double source_ohm, first_ohm, second_ohm, first_volt, second_volt, two_loads, open_circuit;
  };
  const Row rows[] = {{10, 32, 16, 0.761904762, 0.615384615, 0.1013, 0.0381},
                      {1, 33, 15, 0.970588235, 0.937500000, 0.0428, 0.0226},
                      {120, 600, 100, 0.833333333, 0.454545455, 0.4831, 0.3335},
                      {0.5, 32, 16, 0.984615385, 0.969696970, 0.0474, 0.0233}};
  for (const Row& row : rows) {
    const auto two = source_impedance(
        {{row.first_ohm, row.first_volt}, {row.second_ohm, row.second_volt}}, tenth_percent());
    EXPECT_NEAR(two.output_ohm, row.source_ohm, 2e-6);
    EXPECT_NEAR(two.uncertainty_ohm, row.two_loads, 5.1e-5);
    const auto against_open =
        source_impedance({{open, 1.0}, {row.second_ohm, row.second_volt}}, tenth_percent());
    EXPECT_NEAR(against_open.output_ohm, row.source_ohm, 2e-6);
    EXPECT_NEAR(against_open.uncertainty_ohm, row.open_circuit, 5.1e-5);
  }
}

TEST(SourceImpedance, TheOrderOfTheLoadsDoesNotMatter) {
  const auto a = source_impedance({reading(3, 16), reading(3, 50)}, tenth_percent());
  const auto b = source_impedance({reading(3, 50), reading(3, 16)}, tenth_percent());
  EXPECT_NEAR(a.output_ohm, b.output_ohm, 1e-12);
  EXPECT_NEAR(a.uncertainty_ohm, b.uncertainty_ohm, 1e-12);
}

TEST(SourceImpedance, MoreLoadsOfOneSourceAgreeAndHelp) {
  const auto two = source_impedance({reading(5, 100), reading(5, 16)}, tenth_percent());
  const auto four = source_impedance(
      {reading(5, 100), reading(5, 100), reading(5, 16), reading(5, 16)}, tenth_percent());
  EXPECT_NEAR(four.output_ohm, 5, 1e-10);
  EXPECT_NEAR(four.uncertainty_ohm, two.uncertainty_ohm / std::sqrt(2.0), 2e-4);
}

// A gain error common to both readings leaves their ratio, hence the result, as it is.
TEST(SourceImpedance, ACommonMeterErrorCancels) {
  SourceAccuracy accuracy;
  accuracy.meter_percent = 3;
  accuracy.correlated = true;
  EXPECT_LT(source_impedance({reading(10, open), reading(10, 32)}, accuracy).uncertainty_ohm, 1e-3);
  accuracy.correlated = false;
  EXPECT_GT(source_impedance({reading(10, open), reading(10, 32)}, accuracy).uncertainty_ohm, 0.9);
}

TEST(SourceImpedance, SaysWhenItIsNotDifferentFromZero) {
  SourceAccuracy accuracy;
  accuracy.meter_percent = 1;
  const auto result = source_impedance({{open, 1.000}, {300, 0.9995}}, accuracy);
  EXPECT_FALSE(result.differs_from_zero);
  EXPECT_THAT(result.warnings, testing::Contains(testing::HasSubstr("not different from zero")));
  EXPECT_TRUE(source_impedance({reading(10, open), reading(10, 32)}, accuracy).differs_from_zero);
  // Readings that rise a little under load are noise, not an error.
  EXPECT_LT(source_impedance({{open, 1.0}, {300, 1.001}}, accuracy).output_ohm, 0);
}

// With errors in percent only, u^2 is 2 e^2 (R2 + R)^2: a smaller load is always better. With an
// error in volts, e^2 (R2 + R)^2 ((R2 + R)^2/R2^2 + 1)/V0^2 has its least value near R2 = R.
TEST(SourceImpedance, TheBetterLoad) {
  SourceAccuracy percent;
  percent.meter_percent = 1;
  const auto light = source_impedance({reading(1, open), reading(1, 600)}, percent);
  ASSERT_TRUE(light.better_load_ohm);
  EXPECT_NEAR(*light.better_load_ohm, 8, 1e-9);
  EXPECT_NEAR(light.better_uncertainty_ohm / light.uncertainty_ohm, 9.0 / 601, 1e-3);
  EXPECT_FALSE(source_impedance({reading(1, open), reading(1, 8)}, percent).better_load_ohm);
  SourceAccuracy counts;
  counts.meter_counts_volt = 0.001;
  counts.least_load_ohm = 1;
  const auto small = source_impedance({reading(100, open), reading(100, 5)}, counts);
  ASSERT_TRUE(small.better_load_ohm);
  // d/dx of (1+x)^2 ((1+x)^2 + x^2)/x^2 is 0 at x = 0.7 or so; the bound here is R2 >= R.
  EXPECT_NEAR(*small.better_load_ohm, 100, 1e-9);
}

TEST(SourceImpedance, OverFrequency) {
  const auto curve = source_impedance(
      {{100, {reading(2, open), reading(2, 16)}}, {1000, {reading(4, open), reading(4, 16)}}},
      tenth_percent());
  EXPECT_NEAR(curve.output_ohm[0], 2, 1e-12);
  EXPECT_NEAR(curve.output_ohm[1], 4, 1e-12);
  EXPECT_EQ(curve.frequency_hz[1], 1000);
  EXPECT_GT(curve.uncertainty_ohm[1], curve.uncertainty_ohm[0]);
}

TEST(SourceImpedance, RefusesWhatTellsNothing) {
  EXPECT_THROW(source_impedance(std::vector<LoadReading>{}), InputError);
  EXPECT_THROW(source_impedance({{32, 1.0}, {32, 0.9}}), InputError);
  EXPECT_THROW(source_impedance({{0, 1.0}, {32, 0.9}}), InputError);
  EXPECT_THROW(source_impedance({{-5, 1.0}, {32, 0.9}}), InputError);
  EXPECT_THROW(source_impedance({{open, 0.0}, {32, 0.9}}), InputError);
  EXPECT_THROW(source_impedance({{open, std::nan("")}, {32, 0.9}}), InputError);
  EXPECT_THROW(source_impedance({{100, 0.1}, {10, 1.1}}), InputError);  // needs 1/E < 0
  SourceAccuracy negative;
  negative.meter_percent = -1;
  EXPECT_THROW(source_impedance({reading(1, open), reading(1, 8)}, negative), InputError);
  EXPECT_THROW(source_impedance(std::vector<SourceReadings>{}), InputError);
}

// Open, 32 and 16 ohm at 1, 0.84 and 0.5 V: 32 (1/0.84 - 1) = 6.1 ohm, 16 (1/0.5 - 1) = 16 ohm.
TEST(SourceImpedance, SaysThatLoadsDisagree) {
  const double unloaded = std::numeric_limits<double>::infinity();
  const auto found = source_impedance({{unloaded, 1}, {32, 0.84}, {16, 0.5}});
  EXPECT_FALSE(found.agrees);
  ASSERT_FALSE(found.warnings.empty());
  EXPECT_THAT(found.warnings[0], testing::HasSubstr("6.1 ohm by 32 ohm and 16 ohm by 16 ohm"));
  EXPECT_GT(found.uncertainty_ohm, 2);
}

// 200 sources, each read at four loads by a meter and loads of 1 %: no false alarm.
TEST(SourceImpedance, TakesReadingsWithinTheirLimitsAsAgreeing) {
  std::mt19937_64 generator(1);
  std::uniform_real_distribution<double> even(-0.01, 0.01);
  int alarms = 0;
  for (int trial = 0; trial < 200; ++trial) {
    const double output_ohm = 0.2 * std::pow(300, trial / 200.0);
    std::vector<LoadReading> readings{
        {std::numeric_limits<double>::infinity(), 1 + even(generator)}};
    for (const double load : {16.0, 32.0, 64.0})
      readings.push_back(
          {load, load * (1 + even(generator)) / (load + output_ohm) * (1 + even(generator))});
    SourceAccuracy accuracy;
    accuracy.meter_percent = accuracy.load_percent = 1;
    alarms += source_impedance(readings, accuracy).agrees ? 0 : 1;
  }
  EXPECT_LE(alarms, 1);
}

}  // namespace
}  // namespace ohmtilt
