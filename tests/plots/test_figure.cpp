// Files of every kind: valid, whole, the same bytes twice. Signatures: PNG (ISO/IEC 15948, 5.2),
// PDF (ISO 32000-1, 7.5.2); XML read by Boost's parser.
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/output_file.h>

#include <plots/axis.h>
#include <plots/layout.h>
#include <plots/script.h>
#include <plots/text.h>

#include <boost/property_tree/ptree.hpp>
#include <boost/property_tree/xml_parser.hpp>
#include <clocale>
#include <regex>
#include <sstream>

#include "tests/plots/figure_support.h"

namespace ohmtilt::plots {
namespace {

using test::contents;
using test::message_of;
using test::Scratch;
using Tree = boost::property_tree::ptree;

/// All that stands in text elements, a line each, as a reader of XML sees it.
std::string texts_of(const Tree& tree) {
  std::string result;
  for (const auto& [name, child] : tree)
    result += name == "text" ? child.get_value<std::string>() + "\n" : texts_of(child);
  return result;
}

std::string svg_texts(const std::filesystem::path& file) {
  Tree tree;
  boost::property_tree::read_xml(file.string(), tree);
  return texts_of(tree);
}

std::string drawn(const DeviationFigure& figure, const std::string& name) {
  const Scratch folder;
  draw(figure, test::to_file(folder / name));
  return contents(folder / name);
}

TEST(FigureFile, HasItsKindsSignature) {
  const auto figure = test::invented_figure(2);
  EXPECT_EQ(drawn(figure, "a.png").substr(0, 8), "\x89PNG\r\n\x1a\n");
  const std::string pdf = drawn(figure, "a.PDF");
  EXPECT_EQ(pdf.substr(0, 5), "%PDF-");
  EXPECT_NE(pdf.find("%%EOF"), std::string::npos);
  EXPECT_NE(drawn(figure, "a.svg").find("</svg>"), std::string::npos);
}

TEST(FigureFile, IsTheSameBytesTwice) {
  const auto figure = test::invented_figure(3);
  for (const std::string name : {"a.svg", "a.png", "a.pdf"})
    EXPECT_EQ(drawn(figure, name), drawn(figure, name));
  EXPECT_EQ(drawn(figure, "a.pdf").find("CreationDate"), std::string::npos);
}

TEST(FigureFile, DoesNotDependOnTheLocale) {
  const bool there = std::setlocale(LC_ALL, "de_DE.UTF-8") != nullptr;
  std::setlocale(LC_ALL, "C");
  if (!there)
    GTEST_SKIP() << "de_DE.UTF-8 is not installed (Debian: locales-all); "
                    "the tests of faults make it for the whole program";
  const auto figure = test::invented_figure();
  const std::string before = drawn(figure, "a.svg");
  ::setenv("LC_ALL", "de_DE.UTF-8", 1);
  const std::string after = drawn(figure, "a.svg");
  ::unsetenv("LC_ALL");
  EXPECT_EQ(before, after);
}

TEST(FigureFile, ReplacesOnlyWhenTold) {
  const Scratch folder;
  const auto file = folder.write("a.svg", "precious");
  const auto figure = test::invented_figure();
  EXPECT_THROW(draw(figure, test::to_file(file)), FileExists);
  EXPECT_EQ(contents(file), "precious");
  draw(figure, test::to_file(file, true));
  EXPECT_NE(contents(file).find("<svg"), std::string::npos);
}

TEST(FigureFile, NeedsAFolder) {
  const Scratch folder;
  const auto act = [&] { draw(test::invented_figure(), test::to_file(folder / "none/a.svg")); };
  EXPECT_NE(message_of<OutputError>(act).find("none/a.svg: cannot be written"), std::string::npos);
}

TEST(FigureFile, RefusesAnEndingItDoesNotKnow) {
  const auto act = [] { check(test::to_file("figure.jpg")); };
  EXPECT_NE(message_of<InputError>(act).find(".svg, .png or .pdf"), std::string::npos);
  EXPECT_NO_THROW(check(test::to_file("figure.Svg")));
}

TEST(FigureFile, TakesAnyPathWithoutHandingItOn) {
  const Scratch folder;
  const std::string name = "a'b\"c`touch x`$(touch y);\n.svg";
  draw(test::invented_figure(), test::to_file(folder / name));
  EXPECT_TRUE(std::filesystem::exists(folder / name));
  EXPECT_EQ(std::distance(std::filesystem::directory_iterator(folder.folder()), {}), 1);
}

/// Each of these would do something if it were read as anything but text.
std::vector<std::string> hostile_texts(const std::string& evil) {
  return {"\"quoted\" and 'quoted'",
          "`touch " + evil + "`",
          "$(touch " + evil + ")",
          "system(\"touch " + evil + "\")",
          "'.system('touch " + evil + "').'",
          "\".system(\"touch " + evil + "\").\"",
          "\nset terminal dumb",
          "\n!touch " + evil,
          "\r\nsystem 'touch " + evil + "'",
          "x\\\n!touch " + evil,
          "EOD\n!touch " + evil,
          "'; system('touch " + evil + "')",
          "''' system 'touch " + evil + "'",
          "\"\" system(\"touch " + evil + "\")",
          "'\nset print '" + evil + "'\nprint 1\n'",
          "@macro @ARGV $d0 {/Bold b} a^b_c ~d &amp; &{x} {/=40 big}",
          "%g %d %s %% \\n \\t \\\\ \\",
          "<b>&lt;</b> ]]> <!-- --> <script>x</script>",
          "# no comment",
          std::string("\x01\x1b[2J\xff\xc3 \xe2\x80\xae\xef\xbf\xbf")};
}

DeviationFigure hostile_figure(const std::string& text) {
  auto figure = test::invented_figure();
  figure.earphone_title = figure.conclusion = figure.caption = text;
  figure.curves[0].label = figure.from_label = text;
  figure.response_before_db = figure.curves[0].deviation_db;
  figure.response_after_db = {figure.curves[0].deviation_db};
  return figure;
}

TEST(HostileText, IsDrawnToTheLetterAndRunsNothing) {
  const Scratch folder, elsewhere;
  const std::string evil = (elsewhere / "e").string();
  for (const std::string& text : hostile_texts(evil)) {
    draw(hostile_figure(text), test::to_file(folder / "a.svg", true));
    const std::string found = svg_texts(folder / "a.svg");
    const std::string expected = drawable(text);
    // Boost's parser trims what it reads, and a long text stands in two lines.
    EXPECT_NE(std::regex_replace(found, std::regex("\\s"), "")
                  .find(std::regex_replace(expected, std::regex("\\s"), "")),
              std::string::npos)
        << expected << "\nin\n"
        << found;
    EXPECT_FALSE(std::filesystem::exists(evil)) << text;
  }
  EXPECT_TRUE(std::filesystem::is_empty(elsewhere.folder()));
}

TEST(HostileText, IsHarmlessInEveryKind) {
  const Scratch folder, elsewhere;
  const std::string evil = (elsewhere / "e").string();
  for (const std::string& text : hostile_texts(evil)) {
    for (const std::string name : {"a.png", "a.pdf"})
      draw(hostile_figure(text), test::to_file(folder / name, true));
    std::ostringstream out;
    const Output output{Output::Kind::text, {}, false, [&](const auto& figure) { out << figure; }};
    draw(hostile_figure(text), output);
    EXPECT_EQ(out.str().find('\x1b'), std::string::npos);
    EXPECT_NE(out.str().find("Deviation, dB"), std::string::npos);
  }
  EXPECT_TRUE(std::filesystem::is_empty(elsewhere.folder()));
}

TEST(HostileText, MayStandAtTicksNotesAndCells) {
  const Scratch folder, elsewhere;
  const std::string evil = (elsewhere / "e").string();
  for (const std::string& text : hostile_texts(evil)) {
    Sheet sheet;
    sheet.panels.resize(1);
    Panel& panel = sheet.panels[0];
    panel.x = category_axis({text, "b"});
    panel.y = category_axis({"c", "100 %d %g %% %"});
    panel.x.label = panel.heading = panel.remark = text;
    panel.cells.push_back({0, 1, 0, 1, 0.5, text});
    panel.notes.push_back({Note::Side::left, 0, 0, text});
    draw(sheet, test::to_file(folder / "a.svg", true));
    const std::string found = svg_texts(folder / "a.svg");
    EXPECT_NE(found.find("100 %d %g %% %\n"), std::string::npos) << found;
    EXPECT_NE(found.find(drawable(text).substr(0, 3)), std::string::npos) << found;
  }
  EXPECT_TRUE(std::filesystem::is_empty(elsewhere.folder()));
}

TEST(HostileText, MayBeVeryLong) {
  auto figure = hostile_figure(std::string(200000, 'w'));
  const std::string svg = drawn(figure, "a.svg");
  EXPECT_LT(svg.size(), 200000u);
  EXPECT_NE(svg.find("\xe2\x80\xa6"), std::string::npos);
}

TEST(FigureLayout, LeavesRoomForATickThatWouldTouchItsHeading) {
  Sheet sheet;
  sheet.panels.emplace_back();
  sheet.panels[0].heading = "Heading";
  sheet.panels[0].y.ticks = {{0, "0"}, {0.5, "0.5"}};
  const auto room = [&] {
    const Layout layout = lay_out(sheet, page());
    return layout.texts.front().y - layout.panels[0].plot.top;
  };
  const double before = room();
  sheet.panels[0].y.ticks.push_back({1, "1"});  // at the very top
  EXPECT_GE(room(), before + page().tick.size / 2);
  sheet.panels[0].y.ticks.back().text = "";
  EXPECT_EQ(room(), before);
}

TEST(FigureScript, PutsAWhiteEdgeUnderMarksOnBars) {
  Sheet sheet;
  sheet.panels.emplace_back();
  const Array one = Array::Constant(1, 0.5);
  sheet.panels[0].points.push_back({"marks", one, one, {}, 1});
  const std::string edge = "with points " + mark_halo_style(1);
  EXPECT_EQ(script(sheet, Format::svg).find(edge), std::string::npos);
  sheet.panels[0].bars.push_back({"bars", 0.9 * one, 1.1 * one, one, 0, 0});
  EXPECT_NE(script(sheet, Format::svg).find(edge), std::string::npos);
  EXPECT_EQ(script(sheet, Format::terminal).find("#ffffff"), std::string::npos);
}

TEST(TerminalFigure, ShowsTheCurveInPlainText) {
  std::ostringstream out;
  const Output output{Output::Kind::text, {}, false, [&](const auto& figure) { out << figure; }};
  draw(test::invented_figure(2), output);
  const std::string text = out.str();
  EXPECT_GT(std::count(text.begin(), text.end(), '*'), 20);
  EXPECT_GT(std::count(text.begin(), text.end(), '#'), 40);
  for (const std::string word :
       {"6 ohm instead of 0.3 ohm", "* 1 ohm", "# 2 ohm", "20k", "+2", "Invented data."})
    EXPECT_NE(text.find(word), std::string::npos) << word << "\n" << text;
  EXPECT_EQ(text.find('\f'), std::string::npos);
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) EXPECT_LE(columns(line), 79) << line;
}

TEST(WindowFigure, NeedsADisplay) {
  ::unsetenv("DISPLAY");
  ::unsetenv("WAYLAND_DISPLAY");
  const Output output{Output::Kind::window, {}, false, nullptr};
  const auto act = [&] { draw(test::invented_figure(), output); };
  EXPECT_NE(message_of<OutputError>(act).find("no display"), std::string::npos);
}

}  // namespace
}  // namespace ohmtilt::plots
