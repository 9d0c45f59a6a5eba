// Codes in the style of IEC 60062; the letters are from memory of the standard.
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/resistor_code.h>

#include <cmath>

#include "tests/support.h"

namespace ohmtilt::test {
namespace {

TEST(ResistorCode, ReadsTheUsualCodes) {
  const std::vector<std::pair<const char*, double>> codes{
      {"4R7", 4.7},   {"4k7", 4700},    {"4K7", 4700}, {"R33", 0.33},   {"6R0", 6},
      {"2M2", 2.2e6}, {"100R", 100},    {"1K0", 1000}, {"0R", 0},       {"10M", 10e6},
      {"1G", 1e9},    {"L22", 0.22e-3}, {"5L0", 5e-3}, {"59R04", 59.04}};
  for (const auto& [code, ohm] : codes) EXPECT_EQ(parse_resistance_code(code), ohm) << code;
}

TEST(ResistorCode, ReadsTheImpedanceCodesOfEarphones) {
  // IEC 60268-7:2010 clause 4 (from a public transcription): 08R0 is 8 ohm, 32R0 is 32 ohm.
  EXPECT_EQ(parse_resistance_code("08R0"), 8);
  EXPECT_EQ(parse_resistance_code("32R0"), 32);
}

TEST(ResistorCode, RefusesWhatIsNone) {
  for (const char* text : {"", "R", "47", "4.7", "4R7R", "-4R7", "4Q7", "4R7 ", "123456R", "k"})
    EXPECT_THROW(parse_resistance_code(text), InputError) << text;
}

TEST(ResistorCode, WritesTheShortestCode) {
  const std::vector<std::pair<double, const char*>> codes{
      {4.7, "4R7"}, {4700, "4K7"},  {0.33, "R33"}, {6, "6R"},      {2.2e6, "2M2"}, {100, "100R"},
      {0, "0R"},    {0.022, "22L"}, {999.6, "1K"}, {59.04, "59R"}, {0.1, "R1"},    {1e9, "1G"}};
  for (const auto& [ohm, code] : codes) EXPECT_EQ(resistance_code(ohm), code) << ohm;
}

TEST(ResistorCode, ReadsBackWhatItWrites) {
  for (double ohm = 0.00123; ohm < 1e11; ohm *= 1.37)
    EXPECT_NEAR(parse_resistance_code(resistance_code(ohm)) / ohm, 1, 0.0051) << ohm;
}

TEST(ResistorCode, RefusesToWriteNonsense) {
  for (const double ohm : {-1.0, 1e-9, 1e13, std::nan(""), HUGE_VAL})
    EXPECT_THROW(resistance_code(ohm), InputError) << ohm;
}

}  // namespace
}  // namespace ohmtilt::test
