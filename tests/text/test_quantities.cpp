// Numbers in words: significant digits, and rounding toward the safe side.
#include <ohmtilt/text/quantities.h>
#include <ohmtilt/text/text.h>

#include <cmath>
#include <random>

#include "tests/support.h"

namespace ohmtilt::test {
namespace {

TEST(Quantities, RoundByHand) {
  EXPECT_EQ(significant(1368), "1370");
  EXPECT_EQ(significant_down(0.575), "0.57");
  EXPECT_EQ(significant_down(2.7749), "2.7");
  EXPECT_EQ(significant_down(8), "8");
  EXPECT_EQ(significant_down(0.3), "0.3");
  EXPECT_EQ(significant_up(0.3), "0.3");
  EXPECT_EQ(significant_up(0.571), "0.58");
  EXPECT_EQ(significant_up(9.91), "10");
  EXPECT_EQ(significant_down(99999), "99000");
  EXPECT_EQ(significant_down(10.0 - 1e-12), "9.9");
  EXPECT_EQ(hz_text(999.7), "1 kHz");
  EXPECT_EQ(hz_text(21.8076), "21.8 Hz");
  EXPECT_EQ(hz_text(18608.6), "18.6 kHz");
  EXPECT_EQ(hz_text(999400), "999 kHz");
  EXPECT_EQ(hz_text(999600), "1 MHz");
  EXPECT_EQ(hz_text(2.5e6), "2.5 MHz");
}

TEST(Quantities, NeverRoundToTheOtherSide) {
  std::mt19937_64 random(5);
  for (int i = 0; i < 2000; ++i) {
    const double value = std::pow(10, std::uniform_real_distribution(-4.0, 6.0)(random));
    const int figures = 1 + i % 4;
    const double down = *parse_number(significant_down(value, figures));
    const double up = *parse_number(significant_up(value, figures));
    EXPECT_LE(down, value);
    EXPECT_GE(up, value);
    const double step = std::pow(10, std::floor(std::log10(value)) - figures + 1);
    EXPECT_LT(value - down, step * 1.0000001);
    EXPECT_LT(up - value, step * 1.0000001);
  }
}

}  // namespace
}  // namespace ohmtilt::test
