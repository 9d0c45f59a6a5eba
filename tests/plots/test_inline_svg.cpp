// Figures as parts of a page: what gnuplot draws, rewritten.
#include <gtest/gtest.h>
#include <ohmtilt/text/error.h>
#include <plots/inline_svg.h>

#include <algorithm>
#include <regex>
#include <set>

namespace ohmtilt::plots {
namespace {

/// A sheet with a line, marks, bars and a note, in every series.
Sheet sheet(const std::string& text) {
  Panel panel;
  panel.heading = text;
  panel.x = {"x", Scale::linear, 0, 10, {{0, "0"}, {5, text}}, true};
  panel.y = {"", Scale::linear, 0, 10, {{0, "0"}, {10, "10"}}, true};
  const Array x = Array::LinSpaced(5, 0, 10);
  for (Series series = ink; series < 8; ++series) {
    panel.lines.push_back({text, x, x * 0.1 * (series + 2), series});
    panel.points.push_back({text, x, x * 0.1 * (series + 2), {"", text}, series});
  }
  panel.areas.push_back({x, x * 0.2, x * 0.4, 3});
  panel.bars.push_back({text, x, x + 1, x * 0.3, 0, 2});
  panel.strips.push_back({2, 3});
  panel.rules.push_back({Rule::Direction::upright, 4, true});
  return {"a title of its own", "subtitle", "caption", {panel}};
}

std::string inline_svg(const PageFigure& figure) { return inline_svgs({figure}).front(); }

std::set<std::string> found(const std::string& text, const std::string& pattern) {
  std::set<std::string> all;
  const std::regex one(pattern);
  for (std::sregex_iterator at(text.begin(), text.end(), one), end; at != end; ++at)
    all.insert((*at)[1]);
  return all;
}

TEST(InlineSvg, KeepsToKnownElementsAndColours) {
  const std::string svg = inline_svg({"f", "what it shows", sheet("text"), false});
  EXPECT_EQ(svg.rfind("<svg viewBox=\"0 0 760 ", 0), 0u) << svg.substr(0, 80);
  EXPECT_EQ(found(svg, "<([a-zA-Z]+)"),
            (std::set<std::string>{"circle", "defs", "g", "path", "polygon", "rect", "svg", "text",
                                   "use"}));
  for (const auto& colour : found(svg, "(?:fill|stroke|color)=\"([^\"]*)\""))
    EXPECT_TRUE(colour == "none" || colour == "currentColor" || colour.rfind("var(--", 0) == 0)
        << colour;
  for (const char* series : {"var(--ink)", "var(--series-0)", "var(--series-7)", "var(--tint-3)"})
    EXPECT_NE(svg.find(series), std::string::npos) << series;
}

TEST(InlineSvg, LeavesTitleSubtitleAndCaptionToThePage) {
  const std::string svg = inline_svg({"f", "what it shows", sheet("text"), false});
  for (const char* left_out :
       {"a title of its own", "subtitle", "caption", "<title", "http", "style=", "gnuplot"})
    EXPECT_EQ(svg.find(left_out), std::string::npos) << left_out;
}

TEST(InlineSvg, PutsItsNameBeforeEveryId) {
  const auto drawn_two =
      inline_svgs({{"one", "a", sheet("x"), false}, {"two", "b", sheet("x"), true}});
  const auto ids = found(drawn_two[0], " id=\"([^\"]*)\"");
  ASSERT_FALSE(ids.empty());
  for (const auto& id : ids) EXPECT_EQ(id.rfind("one-", 0), 0u) << id;
  for (const auto& to : found(drawn_two[0], "href=\"#([^\"]*)\"")) EXPECT_EQ(ids.count(to), 1u);
  for (const auto& id : found(drawn_two[1], " id=\"([^\"]*)\"")) EXPECT_EQ(ids.count(id), 0u);
}

TEST(InlineSvg, ShowsHostileTextToTheLetter) {
  const std::string hostile = "<script>&\"']]>--><x y='z'>";
  const std::string svg = inline_svg({"f", hostile, sheet(hostile), false});
  EXPECT_EQ(svg.find("<script"), std::string::npos);
  EXPECT_EQ(svg.find("<x"), std::string::npos);
  EXPECT_NE(svg.find("aria-label=\"&lt;script&gt;&amp;&quot;"), std::string::npos);
  EXPECT_NE(svg.find(">&lt;script&gt;&amp;&quot;&#39;]]&gt;--&gt;&lt;x y=&#39;z&#39;&gt;</text>"),
            std::string::npos);
}

TEST(InlineSvg, IsNarrowForAPhone) {
  const std::string narrow = inline_svg({"f", "what it shows", sheet("text"), true});
  EXPECT_EQ(narrow.rfind("<svg viewBox=\"0 0 380 ", 0), 0u);
  const std::string chain =
      inline_svg({"f", "chain", schematic(Chain("c", Source(), {SeriesStage{4, 0}})), true});
  EXPECT_NE(chain.find("4 ohm"), std::string::npos);
}

TEST(InlineSvg, ComesInOrderWhateverTheirNumber) {
  std::vector<PageFigure> figures;
  for (int i = 0; i < 11; ++i)
    figures.push_back({"f" + std::to_string(i), "shown " + std::to_string(i), sheet("x"), false});
  const auto drawn_all = inline_svgs(figures);
  ASSERT_EQ(drawn_all.size(), 11u);
  for (int i = 0; i < 11; ++i)
    EXPECT_NE(drawn_all[i].find("aria-label=\"shown " + std::to_string(i) + "\""),
              std::string::npos);
}

TEST(InlineSvg, RefusesWhatItDoesNotKnow) {
  const PageFigure figure{"f", "a", sheet("x"), false};
  const auto around = [](const std::string& inside) {
    return "<svg width=\"10\" height=\"10\"><g>" + inside + "</g></svg>";
  };
  EXPECT_NE(inline_svg(around("<path d='M0,0 L1,1'/>"), figure).find("<path"), std::string::npos);
  EXPECT_THROW(inline_svg(around("<script>x</script>"), figure), OutputError);
  EXPECT_THROW(inline_svg(around("<image href='#a'/>"), figure), OutputError);
  EXPECT_THROW(inline_svg(around("<use href='http://x/#a'/>"), figure), OutputError);
  EXPECT_THROW(inline_svg("<svg width=\"10\"", figure), OutputError);
  EXPECT_EQ(inline_svg(around("<path d='M0,0 L1,1' onload='x' style='y'/>"), figure).find("load"),
            std::string::npos);
}

}  // namespace
}  // namespace ohmtilt::plots
