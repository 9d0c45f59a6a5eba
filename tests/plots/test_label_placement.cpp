// Labels that do not overlap. Least-squares placement by hand for small cases.
#include <gtest/gtest.h>
#include <plots/label_placement.h>

#include <algorithm>

namespace ohmtilt::plots {
namespace {

TEST(Spread, LeavesWhatIsApartAlone) {
  const std::vector<double> wanted = {10, 50, 30};
  EXPECT_EQ(spread(wanted, 10, 0, 100), wanted);
}

TEST(Spread, PushesTwoApartEqually) {
  const auto heights = spread({50, 52}, 10, 0, 100);
  EXPECT_DOUBLE_EQ(heights[0], 46);  // the mean 51 stays, 10 apart
  EXPECT_DOUBLE_EQ(heights[1], 56);
}

TEST(Spread, KeepsTiesInOrderAndStaysInside) {
  const auto heights = spread(std::vector<double>(8, 99), 10, 0, 100);
  EXPECT_TRUE(std::is_sorted(heights.begin(), heights.end()));
  EXPECT_DOUBLE_EQ(heights.back(), 100);
  for (std::size_t i = 1; i < 8; ++i) EXPECT_NEAR(heights[i] - heights[i - 1], 10, 1e-9);
}

TEST(Spread, SpreadsEvenlyWhatCannotFit) {
  const auto heights = spread(std::vector<double>(11, 5), 10, 0, 50);
  for (std::size_t i = 0; i < heights.size(); ++i)
    EXPECT_NEAR(heights[i], 5.0 * static_cast<double>(i), 1e-9);
  EXPECT_TRUE(spread({}, 10, 0, 50).empty());
  EXPECT_EQ(spread({-7}, 10, 0, 50), std::vector<double>{0});
}

}  // namespace
}  // namespace ohmtilt::plots
