#include <cmath>

#include <ohmtilt/base/frequency_grid.h>
#include <ohmtilt/hearing/erb.h>
#include <ohmtilt/hearing/third_octave.h>
#include <ohmtilt/text/error.h>

#include "tests/support.h"

namespace ohmtilt {
namespace {

TEST(LogGrid, HasExactEndsAndEqualRatios) {
  const Array hz = log_grid({20, 20000}, 480);
  EXPECT_EQ(hz[0], 20);
  EXPECT_EQ(hz[479], 20000);
  for (Eigen::Index i = 1; i < hz.size(); ++i)
    EXPECT_NEAR(hz[i] / hz[i - 1], std::pow(1000.0, 1.0 / 479), 1e-12);
}

TEST(LogGrid, RefusesWhatIsNoBand) {
  EXPECT_THROW(log_grid({0, 100}, 10), InputError);
  EXPECT_THROW(log_grid({100, 100}, 10), InputError);
  EXPECT_THROW(log_grid({100, INFINITY}, 10), InputError);
  EXPECT_THROW(log_grid({20, 100}, 1), InputError);
}

TEST(Overlap, IsTheCommonPartOrAnError) {
  const Band both = overlap({20, 1000}, {100, 20000});
  EXPECT_EQ(both.low_hz, 100);
  EXPECT_EQ(both.high_hz, 1000);
  EXPECT_THROW(overlap({20, 100}, {200, 300}), InputError);
}

TEST(MeanOverLnF, IsExactForStraightLinesInLnF) {
  const Array hz = log_grid({10, 1000}, 7);
  // The mean of ln f between 10 and 1000 is ln 100: hand.
  EXPECT_NEAR(mean_over_ln_f(hz, hz.log()), std::log(100.0), 1e-14);
  EXPECT_NEAR(mean_over_ln_f(hz, Array::Constant(7, 3.5)), 3.5, 1e-15);
}

// Glasberg and Moore 1990, Hearing Research 47, eq. 3: 24.7 (4.37 F + 1), F in kHz.
// Evaluated by hand: 24.7, 132.639, 240.578, 1104.09 Hz.
TEST(Erb, FollowsGlasbergAndMoore) {
  EXPECT_NEAR(erb_hz(0), 24.7, 1e-12);
  EXPECT_NEAR(erb_hz(1000), 132.639, 1e-9);
  EXPECT_NEAR(erb_hz(2000), 240.578, 1e-9);
  EXPECT_NEAR(erb_hz(10000), 1104.09, 1e-9);
}

TEST(AveragedOverErb, KeepsAConstantAndTheMiddleOfALine) {
  const Array hz = log_grid({20, 20000}, 480);
  EXPECT_LT((averaged_over_erb(hz, Array::Constant(480, 2.0)) - 2).abs().maxCoeff(), 1e-12);
  const Array line = averaged_over_erb(hz, hz);  // symmetric windows: the mean is the middle
  for (Eigen::Index i = 0; i < 480; ++i) {
    const double half = erb_hz(hz[i]) / 2;
    const bool whole_window = hz[i] - half > 20 && hz[i] + half < 20000;
    EXPECT_NEAR(line[i] / hz[i], 1, whole_window ? 1e-9 : 0.5);
  }
}

TEST(AveragedOverErb, StaysBetweenTheExtremes) {
  const Array hz = log_grid({20, 20000}, 200);
  const Array power = 1 + 0.9 * (hz / 300).sin();
  const Array mean = averaged_over_erb(hz, power);
  EXPECT_GE(mean.minCoeff(), power.minCoeff());
  EXPECT_LE(mean.maxCoeff(), power.maxCoeff());
}

// IEC 61260-1 / ISO 266 values as in tests/data/weighting_and_third_octave.csv (its source is in
// the file).
TEST(ThirdOctaves, AreThoseOfTheStandard) {
  const auto bands = third_octaves();
  ASSERT_EQ(bands.size(), 31u);
  std::size_t i = 0;
  for (const auto& row : test::csv_rows(test::data("weighting_and_third_octave.csv"))) {
    const double nominal = std::stod(row.at("nominal_Hz"));
    if (nominal < 20 || nominal > 20000) continue;
    ASSERT_LT(i, bands.size());
    EXPECT_DOUBLE_EQ(bands[i].nominal_hz, nominal);
    EXPECT_NEAR(bands[i].exact_hz / std::stod(row.at("exact_Hz")), 1, 1e-6);
    EXPECT_NEAR(bands[i].edges.low_hz / std::stod(row.at("lower_edge_Hz")), 1, 1e-3);
    ++i;
  }
  EXPECT_EQ(i, 31u);
  EXPECT_EQ(octaves().size(), 10u);
  EXPECT_DOUBLE_EQ(octaves().front().nominal_hz, 31.5);
  EXPECT_DOUBLE_EQ(octaves().back().nominal_hz, 16000);
  EXPECT_EQ(short_hz(12500), "12.5k");
  EXPECT_EQ(short_hz(31.5), "31.5");
}

}  // namespace
}  // namespace ohmtilt
