// The heat map of a survey as a value, and as gnuplot's script.
#include <plots/figures/survey_figure.h>
#include <plots/script.h>

#include <gtest/gtest.h>

#include <cmath>

#include "tests/plots/figure_support.h"

namespace ohmtilt::plots {
namespace {

SurveyFigure invented_survey(std::size_t rows, std::size_t columns) {
  SurveyFigure figure;
  figure.conclusion = "conclusion";
  figure.caption = "caption";
  figure.heading = "Span, dB";
  figure.limit = "1 dB";
  for (std::size_t i = 0; i < columns; ++i) figure.sources.push_back(std::to_string(i));
  for (std::size_t row = 0; row < rows; ++row) {
    SurveyedEarphone one{"earphone " + std::to_string(row), {}, "2.8"};
    for (std::size_t i = 0; i < columns; ++i)
      one.value.push_back(12.0 / static_cast<double>(row + 1) - static_cast<double>(i));
    figure.earphones.push_back(std::move(one));
  }
  return figure;
}

TEST(SurveySheet, PutsTheFirstEarphoneOnTop) {
  const Panel panel = sheet_of(invented_survey(3, 2)).panels.at(0);
  ASSERT_EQ(panel.cells.size(), 9u);  // two sources and the largest one
  EXPECT_EQ(panel.cells[0].text, "12.0");
  EXPECT_EQ(panel.cells[0].y_low, 2);
  EXPECT_EQ(panel.y.ticks.back().text, "earphone 0");
  EXPECT_EQ(panel.cells[2].text, "2.8");
  EXPECT_GT(panel.cells[2].x_low, panel.cells[1].x_high);  // apart from the matrix
  EXPECT_EQ(panel.cells[2].shade, 0);
}

TEST(SurveySheet, DarkensWithTheSizeOfANumber) {
  SurveyFigure figure = invented_survey(1, 1);
  figure.least_darkest = 4;
  figure.earphones = {{"a", {-4}, ""}, {"b", {1}, ""}, {"c", {0}, ""}, {"d", {std::nan("")}, ""}};
  figure.with_sign = true;
  const Panel panel = sheet_of(figure).panels.at(0);
  EXPECT_EQ(panel.cells[0].shade, 1);
  EXPECT_EQ(panel.cells[0].text, "-4.0");
  EXPECT_EQ(panel.cells[2].shade, 0.5);
  EXPECT_EQ(panel.cells[2].text, "+1.0");
  EXPECT_EQ(panel.cells[4].shade, 0);
  EXPECT_EQ(panel.cells[4].text, "0.0");
  EXPECT_EQ(panel.cells[6].text, "-");
  figure.earphones = {{"a", {-0.04}, ""}, {"b", {123.4}, ""}};
  EXPECT_EQ(sheet_of(figure).panels.at(0).cells[0].text, "0.0");
  EXPECT_EQ(sheet_of(figure).panels.at(0).cells[2].text, "+123");
}

TEST(SurveySheet, DrawsWhatHasRoomAndSaysSo) {
  const Sheet sheet = sheet_of(invented_survey(1000, 100));
  EXPECT_EQ(sheet.panels.at(0).cells.size(), 40u * 13);
  EXPECT_NE(sheet.caption.find("first 40 of 1000 earphones"), std::string::npos) << sheet.caption;
  EXPECT_NE(sheet.caption.find("12 of 100 sources"), std::string::npos) << sheet.caption;
  const auto& ticks = sheet.panels[0].x.ticks;
  EXPECT_EQ(ticks.front().text, "0");
  EXPECT_EQ(ticks[11].text, "99");
  EXPECT_EQ(sheet_of(invented_survey(40, 12)).caption, "caption");
}

TEST(SurveySheet, KeepsNamedColumns) {
  std::vector<bool> kept(30);
  kept[3] = kept[29] = true;
  EXPECT_EQ(shown_columns(kept, 5), (std::vector<std::size_t>{0, 3, 14, 28, 29}));
  EXPECT_EQ(shown_columns(std::vector<bool>(3), 5), (std::vector<std::size_t>{0, 1, 2}));
  EXPECT_EQ(shown_columns(std::vector<bool>(4, true), 3), (std::vector<std::size_t>{0, 1, 3}));
}

TEST(SurveySheet, IsAScriptThatHoldsItsTextsSafely) {
  SurveyFigure figure = invented_survey(2, 2);
  figure.earphones[0].title = "\"; system('touch /tmp/x') #";
  figure.sources[0] = "`id`";
  const std::string text = script(sheet_of(figure), Format::svg);
  EXPECT_EQ(text.find("system('"), std::string::npos);
  EXPECT_EQ(text.find("`id`"), std::string::npos);
  EXPECT_NE(text.find("boxxyerror"), std::string::npos);
  EXPECT_NE(text.find("\"12.0\""), std::string::npos);
}

// WCAG 2.1: relative luminance of sRGB and contrast of two colours.
double luminance(const std::string& hex) {
  double sum = 0;
  const double weights[] = {0.2126, 0.7152, 0.0722};
  for (std::size_t i = 0; i < 3; ++i) {
    const double c = std::stoi(hex.substr(1 + 2 * i, 2), nullptr, 16) / 255.0;
    sum += weights[i] * (c <= 0.03928 ? c / 12.92 : std::pow((c + 0.055) / 1.055, 2.4));
  }
  return sum;
}

TEST(SurveySheet, CanBeReadOnEveryShade) {
  double before = 1;
  for (int i = 0; i <= 100; ++i) {
    const double cell = luminance(shade_colour(i / 100.0));
    const double text = luminance(colour_on_shade(i / 100.0));
    EXPECT_GE((std::max(cell, text) + 0.05) / (std::min(cell, text) + 0.05), 4.5) << i;
    EXPECT_LE(cell, before);  // told apart in grey print
    before = cell;
  }
}

}  // namespace
}  // namespace ohmtilt::plots
