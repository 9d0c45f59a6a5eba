// Names that are cut stay apart.
#include <gtest/gtest.h>
#include <plots/names.h>

#include <random>
#include <set>

namespace ohmtilt::plots::test {
namespace {

using Names = std::vector<std::string>;

TEST(ShortenedApart, LeavesWhatFits) {
  const Names names{"0.3 ohm", "Attenuator off", "open"};
  EXPECT_EQ(shortened_apart(names, 24, columns), names);
}

TEST(ShortenedApart, DropsTheWordsThatLongOnesShare) {
  EXPECT_EQ(shortened_apart({"0 ohm", "Pocket amplifier P1, attenuator off",
                             "Pocket amplifier P1, attenuator on", "open"},
                            24, columns),
            (Names{"0 ohm", "\u2026off", "\u2026on", "open"}));
  EXPECT_EQ(shortened_apart(
                {"low gain of the pocket amplifier P1", "high gain of the pocket amplifier P1"}, 16,
                columns),
            (Names{"low", "high"}));
}

TEST(ShortenedApart, DropsWhatThoseOfOneFirstWordShare) {
  EXPECT_EQ(shortened_apart(
                {"Attenuator on (invented)", "threshold of hearing", "Attenuator off (invented)"},
                14, columns),
            (Names{"\u2026on", "threshold of\u2026", "\u2026off"}));
}

TEST(ShortenedApart, CutsOneAloneAtItsEnd) {
  EXPECT_EQ(shortened_apart({"Attenuator engaged, high gain"}, 12, columns),
            (Names{"Attenuator\u2026"}));
}

TEST(ShortenedApart, KeepsTheEndsWhereTheStartsAreEqual) {
  const auto names =
      shortened_apart({"AmplifierWithoutBlanksOff", "AmplifierWithoutBlanksOn"}, 12, columns);
  EXPECT_EQ(names[0].substr(names[0].size() - 3), "Off");
  EXPECT_EQ(names[1].substr(names[1].size() - 2), "On");
}

TEST(ShortenedApart, NumbersWhatDiffersOnlyInItsMiddle) {
  // The first, the last and the middle cut are all equal.
  const std::string same(40, 'x');
  const auto names = shortened_apart({same + "1" + same, same + "2" + same}, 12, columns);
  EXPECT_NE(names[0], names[1]);
  for (const auto& name : names) EXPECT_LE(columns(name), 12);
}

TEST(ShortenedApart, KeepsDifferentNamesDifferent) {
  // Seeded: lists of names of words and of bytes, few of them alike, in 8 to 40 places.
  std::mt19937 random(7);
  const Names words{"attenuator ", "on", "off", "P1, ", "high gain ", "\u65e5\u672c ", "x"};
  for (int i = 0; i < 400; ++i) {
    Names names;
    for (unsigned n = 0; n < 1 + random() % 6; ++n) {
      std::string name = i % 2 == 0 ? "A long common start of all, " : "";
      for (unsigned w = 0; w < 1 + random() % 12; ++w) name += words[random() % words.size()];
      names.push_back(name);
    }
    const auto limit = static_cast<double>(8 + random() % 33);
    const auto cut = shortened_apart(names, limit, columns);
    ASSERT_EQ(cut.size(), names.size());
    EXPECT_EQ(std::set<std::string>(cut.begin(), cut.end()).size(),
              std::set<std::string>(names.begin(), names.end()).size())
        << i;
    for (const auto& name : cut) {
      EXPECT_LE(columns(name), limit) << name;
      EXPECT_EQ(drawable(name), name);
    }
  }
}

}  // namespace
}  // namespace ohmtilt::plots::test
