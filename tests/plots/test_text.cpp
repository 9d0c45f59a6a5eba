// Text as a figure draws it. UTF-8: RFC 3629. Characters XML 1.0 allows: its production [2].
#include <gtest/gtest.h>
#include <plots/text.h>

namespace ohmtilt::plots {
namespace {

TEST(DrawableText, KeepsWhatHasAShape) {
  const std::string text = "a\"'`@{}^_&~%$#\\<b> \xc3\xa9 \xce\xa9 \xe6\xbc\xa2 \xf0\x9d\x84\x9e";
  EXPECT_EQ(drawable(text), text);
}

TEST(DrawableText, MarksLineEnds) {
  const std::string mark = "\xe2\x86\xb5";
  EXPECT_EQ(drawable("a\nb"), "a" + mark + "b");
  EXPECT_EQ(drawable("a\r\nb"), "a" + mark + "b");
  EXPECT_EQ(drawable("a\rb\n\n"), "a" + mark + "b" + mark + mark);
  EXPECT_EQ(drawable("a\tb"), "a b");
}

TEST(DrawableText, ReplacesWhatHasNone) {
  const std::string unknown = "\xef\xbf\xbd";
  for (const std::string& bad : {std::string("\0", 1), std::string("\x1b"), std::string("\x7f"),
                                 std::string("\xc2\x9b"),      // C1 control
                                 std::string("\xe2\x80\xae"),  // right-to-left override
                                 std::string("\xef\xbf\xbf"),  // U+FFFF, not allowed in XML
                                 std::string("\xff")})         // not UTF-8
    EXPECT_EQ(drawable("a" + bad + "b"), "a" + unknown + "b");
}

TEST(QuotedText, HoldsNothingThatCouldMeanAnything) {
  EXPECT_EQ(gnuplot_literal("6 ohm: +1.9 dB"), "\"6 ohm: +1.9 dB\"");
  EXPECT_EQ(gnuplot_literal("it's \\"), "\"it\\047s \\134\"");
  EXPECT_EQ(gnuplot_literal(""), "\"\"");
  std::string all;
  for (int byte = 1; byte < 256; ++byte) all += static_cast<char>(byte);
  const std::string literal = gnuplot_literal(all);
  const std::string inside = literal.substr(1, literal.size() - 2);
  EXPECT_EQ(inside.find_first_of("\"'`$@{}^_&~%#\n\r!|<>*?[]"), std::string::npos);
}

TEST(ShortenedText, EndsInAnEllipsisAndFits) {
  const std::string text(300, 'm');
  const std::string cut = shortened(text, 20);
  EXPECT_LE(width_em(cut), 20);
  EXPECT_GT(width_em(cut), 18);
  EXPECT_TRUE(cut.ends_with("\xe2\x80\xa6"));
  EXPECT_EQ(shortened("short", 20), "short");
}

TEST(ShortenedText, NeverCutsACharacterApart) {
  std::string text;
  for (int i = 0; i < 60; ++i) text += "\xe6\xbc\xa2";
  for (double limit = 2; limit < 40; limit += 0.3)
    EXPECT_EQ(drawable(shortened(text, limit)), shortened(text, limit));
}

TEST(ShortenedText, HoldsEvenAHeapOfMarks) {
  std::string text = "a";
  for (int i = 0; i < 100000; ++i) text += "\xcc\x81";
  EXPECT_LT(shortened(text, 20).size(), 2000u);
}

TEST(WrappedText, BreaksAtBlanksAndKeepsTheWords) {
  const auto lines = wrapped("6 ohm instead of 0.3 ohm: +1.9 dB at 3.1 kHz", 16, 4);
  std::string joined;
  for (const auto& line : lines) {
    EXPECT_LE(width_em(line), 16);
    joined += (joined.empty() ? "" : " ") + line;
  }
  EXPECT_EQ(joined, "6 ohm instead of 0.3 ohm: +1.9 dB at 3.1 kHz");
}

TEST(WrappedText, BreaksAWordThatIsTooLongAndShortensTheLastLine) {
  const auto lines = wrapped(std::string(500, 'x'), 30, 2);
  ASSERT_EQ(lines.size(), 2u);
  for (const auto& line : lines) EXPECT_LE(width_em(line), 30);
  EXPECT_TRUE(lines[1].ends_with("\xe2\x80\xa6"));
  EXPECT_EQ(wrapped("", 30, 2), std::vector<std::string>{""});
}

TEST(WrappedText, BreaksBehindAHyphenInAWord) {
  const auto lines = wrapped("Demo dynamic-armature hybrid", 10, 3);
  ASSERT_EQ(lines.size(), 2u);
  EXPECT_EQ(lines[0], "Demo dynamic-");
  EXPECT_EQ(wrapped("falls by -1.97 dB", 5, 4)[0], "falls by");
}

}  // namespace
}  // namespace ohmtilt::plots
