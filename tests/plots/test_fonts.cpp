// Characters that no font has. The list of ranges is fontconfig's own form (fc-list, FcCharSet).
#include <plots/fonts.h>

#include "tests/plots/figure_support.h"

namespace ohmtilt::plots {
namespace {

const std::string unknown = "\xef\xbf\xbd";          // U+FFFD
const std::string private_use = "\xf4\x8f\xbc\x80";  // U+10FF00, which no font has

TEST(Fonts, KnowTheirRanges) {
  const FontCoverage fonts("20-7e a0-17f\n3bb 100-200 \nnot-a-range 5g -7\n");
  for (const char32_t code : {0x20, 0x7e, 0xa0, 0x17f, 0x180, 0x200, 0x3bb})
    EXPECT_TRUE(fonts.has(code)) << static_cast<unsigned>(code);
  for (const char32_t code : {0x1f, 0x7f, 0x9f, 0x201, 0x3ba, 0x3bc, 0x10ffff})
    EXPECT_FALSE(fonts.has(code)) << static_cast<unsigned>(code);
  EXPECT_FALSE(FontCoverage("").has('a'));
}

TEST(Fonts, MarkWhatTheyLack) {
  const auto found =
      legible("a\xc3\xa9 \xe6\x97\xa5\xe6\x9c\xac\xe6\x97\xa5", FontCoverage("e9 fffd"));
  EXPECT_EQ(found.text, "a\xc3\xa9 " + unknown + unknown + unknown);
  EXPECT_EQ(found.missing, "\xe6\x97\xa5\xe6\x9c\xac");
  EXPECT_EQ(legible("\xce\xa9 ohm", FontCoverage("")).text, "? ohm");
}

TEST(Fonts, AreFoundHere) {
  const auto fonts = installed_fonts();
  if (!fonts) GTEST_SKIP() << "fc-list does not answer (Debian: fontconfig)";
  EXPECT_TRUE(fonts->has('a'));
  EXPECT_FALSE(fonts->has(0x10ff00));
}

// gnuplot 5.4 fills the page with the outline of such a character.
TEST(Fonts, AFigureShowsAMarkForWhatTheyLack) {
  const test::Scratch folder;
  std::string note;
  const auto drawn = [&](const std::string& title, const std::string& name) {
    auto figure = test::invented_figure();
    figure.earphone_title = title;
    Output output = test::to_file(folder / name);
    output.note = [&note](const std::string& text) { note += text; };
    draw(figure, output);
    return test::contents(folder / name);
  };
  const std::string marked = drawn("A" + unknown + "B", "a.png");
  EXPECT_EQ(note, "");
  EXPECT_EQ(drawn("A" + private_use + "B", "b.png"), marked);
  EXPECT_NE(note.find("no font here has " + private_use), std::string::npos) << note;
  note.clear();
  EXPECT_NE(drawn("A" + private_use + "B", "c.svg").find(private_use), std::string::npos);
  EXPECT_EQ(note, "");
}

}  // namespace
}  // namespace ohmtilt::plots
