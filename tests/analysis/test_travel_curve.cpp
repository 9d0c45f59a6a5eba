// The volume control over level, against closed forms of the tapers.
#include <gtest/gtest.h>

#include <ohmtilt/analysis/level/travel_curve.h>

#include <cmath>

namespace ohmtilt::test {
namespace {

// A linear taper's gain is 20 log10 of its travel: 20 dB less than full is a tenth of it.
TEST(TravelOverLevel, FollowsALinearTaper) {
  GainPosition position;
  position.control_db = -20;
  const Array travel =
      travel_over_level(LinearTaper{}, position, 85, (Array(4) << 65, 85, 105, 106).finished());
  EXPECT_NEAR(travel[0], 1, 1e-9);
  EXPECT_NEAR(travel[1], 10, 1e-9);
  EXPECT_NEAR(travel[2], 100, 1e-9);
  EXPECT_TRUE(std::isnan(travel[3]));
}

// 0.3 times the travel below its half: a tenth (-20 dB) at 33.3 %, a hundredth at 3.33 %. The usual
// imbalance is 1 dB at -20 dB and 2 dB at -40 dB (common practice, no source).
TEST(ImbalancedTravel, IsTheLowerPartOfATaper) {
  const auto over_one = imbalanced_travel(AudioTaper{}, 1),
             over_two = imbalanced_travel(AudioTaper{}, 2);
  ASSERT_EQ(over_one.size(), 1u);
  EXPECT_EQ(over_one[0].low_percent, 0);
  EXPECT_NEAR(over_one[0].high_percent, 100.0 / 3, 0.0501);
  ASSERT_EQ(over_two.size(), 1u);
  EXPECT_NEAR(over_two[0].high_percent, 10.0 / 3, 0.0501);
  EXPECT_TRUE(imbalanced_travel(DecibelSteps{}, 1).empty());
  EXPECT_TRUE(imbalanced_travel(AudioTaper{}, 4).empty());
}

// A measured control whose channels differ twice: straight lines between its rows.
TEST(ImbalancedTravel, FindsEveryPartOfATable) {
  VolumeTable table;
  table.travel_percent = (Array(5) << 0, 25, 50, 75, 100).finished();
  table.gain_db = (Array(5) << -80, -60, -40, -20, 0).finished();
  table.imbalance_db = (Array(5) << 3, 0, 2, 0, 0.2).finished();
  const auto over_one = imbalanced_travel(table, 1);
  ASSERT_EQ(over_one.size(), 2u);
  EXPECT_EQ(over_one[0].low_percent, 0);
  EXPECT_NEAR(over_one[0].high_percent, 25 * 2.0 / 3, 0.0501);
  EXPECT_NEAR(over_one[1].low_percent, 37.5, 0.0501);
  EXPECT_NEAR(over_one[1].high_percent, 62.5, 0.0501);
}

}  // namespace
}  // namespace ohmtilt::test
