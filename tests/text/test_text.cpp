#include <bit>
#include <clocale>
#include <cmath>
#include <cstdint>
#include <limits>
#include <random>

#include <ohmtilt/text/text.h>

#include "tests/support.h"

namespace ohmtilt {
namespace {

TEST(NumberText, ReadsBackBitForBit) {
  std::mt19937_64 random(1);
  for (int i = 0; i < 10000; ++i) {
    const double value = std::bit_cast<double>(random());
    if (!std::isfinite(value)) continue;
    EXPECT_EQ(std::bit_cast<std::uint64_t>(*parse_number(number_text(value))),
              std::bit_cast<std::uint64_t>(value));
  }
}

TEST(NumberText, WritesWholeNumbersOut) {
  EXPECT_EQ(number_text(10000), "10000");
  EXPECT_EQ(number_text(-20000), "-20000");
  EXPECT_EQ(number_text(0), "0");
  EXPECT_EQ(number_text(1e15), "1e+15");
}

TEST(NumberText, KnowsNoLocale) {
  std::setlocale(LC_ALL, "de_DE.UTF-8");  // does nothing where it is not installed
  EXPECT_EQ(number_text(24.61), "24.61");
  EXPECT_EQ(parse_number("24.61"), 24.61);
  std::setlocale(LC_ALL, "C");
}

TEST(ParseNumber, TakesTheWholeTextOrNothing) {
  EXPECT_EQ(parse_number("+6"), 6);
  EXPECT_EQ(parse_number("1e3"), 1000);
  for (const char* text : {"", "+", "++6", "6 ", " 6", "6ohm", "1e999", "0x10", "--1"})
    EXPECT_FALSE(parse_number(text)) << text;
}

TEST(Printable, HidesControlsAndCutsLongText) {
  EXPECT_EQ(printable("a\nb\x1b[31m"), "a?b?[31m");
  EXPECT_EQ(printable("a\xc2\x9b"
                      "2J\xe2\x80\xae"
                      "b\xe2\x81\xa6"),
            "a?2J?b?");
  EXPECT_EQ(printable("`x`"), "\xcb\x8bx\xcb\x8b");
  EXPECT_EQ(printable("abcdef", 3), "abc...");
  for (const std::size_t bytes : {3, 4, 5})  // U+65E5 takes three
    EXPECT_EQ(printable("\xe6\x97\xa5\xe6\x97\xa5", bytes), "\xe6\x97\xa5...") << bytes;
  EXPECT_EQ(printable(std::string(9, '\x97'), 7).size(), 3 * 4 + 3u);
  EXPECT_EQ(printable("\xff"), "\xef\xbf\xbd");
}

TEST(ValidUtf8, KeepsWhatIsValidAndMarksTheRest) {
  EXPECT_EQ(valid_utf8("6 Ω ✓ 😀"), "6 Ω ✓ 😀");
  const std::string mark = "\xef\xbf\xbd";
  EXPECT_EQ(valid_utf8("\xc0\xaf"), mark + mark);                        // overlong
  EXPECT_EQ(valid_utf8("\xed\xa0\x80"), mark + mark + mark);             // surrogate
  EXPECT_EQ(valid_utf8("\xf4\x90\x80\x80"), mark + mark + mark + mark);  // beyond U+10FFFF
  EXPECT_EQ(valid_utf8("\xe2\x82"), mark + mark);                        // cut short
}

TEST(NearestWord, FindsAMisspellingAndNothingElse) {
  const std::vector<std::string> known{"series_ohm", "shunt_ohm", "tolerance_percent"};
  EXPECT_EQ(nearest_word("serie_ohm", known), "series_ohm");
  EXPECT_EQ(nearest_word("shunt_ohms", known), "shunt_ohm");
  EXPECT_FALSE(nearest_word("xyzzy", known));
  EXPECT_FALSE(nearest_word("a", {}));
}

TEST(Listed, ReadsLikeASentence) {
  EXPECT_EQ(listed({}), "");
  EXPECT_EQ(listed({"a"}), "a");
  EXPECT_EQ(listed({"a", "b", "c"}), "a, b and c");
}

}  // namespace
}  // namespace ohmtilt
