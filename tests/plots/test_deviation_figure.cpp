// The deviation figure as values: what is drawn where.
#include <plots/script.h>

#include <limits>
#include <set>

#include "tests/plots/figure_support.h"

namespace ohmtilt::plots {
namespace {

TEST(DeviationSheet, HasThePanelsThatWereAskedFor) {
  auto figure = test::invented_figure(4);
  const Sheet sheet = sheet_of(figure);
  ASSERT_EQ(sheet.panels.size(), 3u);
  EXPECT_EQ(sheet.title, figure.conclusion);
  EXPECT_EQ(sheet.panels[0].lines.size(), 4u);
  EXPECT_FALSE(sheet.panels.back().shares_x);
  figure.response_before_db = figure.magnitude_ohm;
  figure.response_after_db = {figure.magnitude_ohm, figure.magnitude_ohm};
  EXPECT_EQ(sheet_of(figure).panels[1].lines.size(), 3u);
}

TEST(DeviationSheet, MarksTheAnchor) {
  auto figure = test::invented_figure();
  EXPECT_EQ(sheet_of(figure).panels[0].remark, "normalised at 1 kHz");
  figure.anchor_low_hz = 300;
  figure.anchor_high_hz = 3000;
  const Sheet sheet = sheet_of(figure);
  ASSERT_EQ(sheet.panels[0].strips.size(), 1u);
  EXPECT_EQ(sheet.panels[0].strips[0].x_high, 3000);
  figure.anchor_low_hz = figure.anchor_high_hz = 0;
  EXPECT_TRUE(sheet_of(figure).panels[0].strips.empty());
  EXPECT_TRUE(sheet_of(figure).panels[0].remark.empty());
}

TEST(DeviationSheet, HoldsTheBandInItsAxis) {
  auto figure = test::invented_figure();
  figure.curves[0].band_lower_db = figure.curves[0].deviation_db - 5;
  figure.curves[0].band_upper_db = figure.curves[0].deviation_db + 7;
  const Panel panel = sheet_of(figure).panels[0];
  ASSERT_EQ(panel.areas.size(), 1u);
  EXPECT_LT(panel.y.low, -5);
  EXPECT_GT(panel.y.high, 9);
}

TEST(DeviationSheet, IsLaidOutForOneToEightCurvesOfAnySize) {
  for (const int curves : {1, 2, 8})
    for (const double peak_db : {0.0, 0.05, 2.0, 15.0}) {
      auto figure = test::invented_figure(curves, peak_db);
      for (auto& curve : figure.curves) curve.label += std::string(200, 'l') + " and more";
      figure.conclusion = figure.earphone_title = figure.caption = std::string(400, 'W');
      if (curves < 8) test::expect_laid_out(sheet_of(figure));
      test::expect_laid_out(sheet_of(test::invented_figure(curves, peak_db)));
    }
}

TEST(Script, NamesEveryTextLiteralAndNoOther) {
  const std::string commands = script(sheet_of(test::invented_figure()), Format::svg);
  EXPECT_EQ(commands.find("nan"), std::string::npos);
  const std::string start = "set label \"";
  for (auto at = commands.find(start); at != std::string::npos; at = commands.find(start, at + 1)) {
    const std::string line = commands.substr(at, commands.find('\n', at) - at);
    EXPECT_TRUE(line.find("noenhanced") != std::string::npos || line.starts_with(start + "\" at"))
        << line;
  }
  EXPECT_NE(commands.find("\"Invented earphone\""), std::string::npos);
}

TEST(Script, DrawsGapsAndEmptySheets) {
  auto figure = test::invented_figure();
  figure.curves[0].deviation_db[5] = std::numeric_limits<double>::quiet_NaN();
  figure.curves[0].deviation_db[6] = std::numeric_limits<double>::infinity();
  const test::Scratch folder;
  EXPECT_NO_THROW(draw(figure, test::to_file(folder / "gap.svg")));
  EXPECT_NO_THROW(draw(DeviationFigure{}, test::to_file(folder / "empty.svg")));
}

TEST(DeviationSheet, DrawsEightOfManySourcesAndOneOfManyBands) {
  auto figure = test::invented_figure(12);
  for (auto& curve : figure.curves) {
    curve.band_lower_db = curve.deviation_db - 1;
    curve.band_upper_db = curve.deviation_db + 1;
  }
  const Sheet sheet = sheet_of(figure);
  const Panel& panel = sheet.panels[0];
  ASSERT_EQ(panel.lines.size(), 8u);
  EXPECT_EQ(panel.lines.front().label, "1 ohm");
  EXPECT_EQ(panel.lines.back().label, "12 ohm");
  std::set<Series> series;
  for (const auto& line : panel.lines) series.insert(line.series);
  EXPECT_EQ(series.size(), 8u);
  ASSERT_EQ(panel.areas.size(), 1u);
  EXPECT_EQ(panel.areas[0].series, panel.lines.back().series);
  EXPECT_NE(panel.remark.find("light band (12 ohm)"), std::string::npos) << panel.remark;
  EXPECT_NE(sheet.caption.find("8 of 12 sources"), std::string::npos);
}

// 1 dB is about 6 units of the sheet, whatever the response does at the ends of the band.
TEST(DeviationSheet, ShowsAResponseInARangeInWhichADecibelIsSeen) {
  auto figure = test::invented_figure();
  figure.response_before_db = 94 - 80 * (figure.frequency_hz / 2000).log().square() / 20;
  figure.response_after_db = {figure.response_before_db + 1};
  const Sheet sheet = sheet_of(figure);
  const Panel& panel = sheet.panels.at(1);
  EXPECT_EQ(panel.heading, "Response, dB SPL");
  EXPECT_LE(panel.y.high - panel.y.low, 31);
  EXPECT_GE(panel.y.high, 94);
}

// On the narrow page the texts of an axis that begins at 1000 and ends at 2000 keep apart.
TEST(DeviationSheet, KeepsTickTextsApart) {
  auto figure = test::invented_figure();
  Sheet sheet = sheet_of(figure);
  Panel& panel = sheet.panels.back();
  panel.x.low = 900;
  panel.x.high = 4000;
  panel.x.ticks.clear();
  for (const double at : {1000, 1200, 1500, 2000, 2500, 3000, 4000})
    panel.x.ticks.push_back({at, std::to_string(static_cast<int>(at)) + ".0000"});
  const std::string text = script(sheet, Format::svg, phone_page());
  EXPECT_NE(text.find("1000.0000"), std::string::npos);
  EXPECT_EQ(text.find("1200.0000"), std::string::npos);
}

}  // namespace
}  // namespace ohmtilt::plots
