// The figures of pad, flatten and equalize as values and on the page.
#include <plots/figures/attenuator_figure.h>
#include <plots/figures/equalizer_figure.h>
#include <plots/figures/flatten_figure.h>
#include <plots/figures/pad_figure.h>

#include "tests/plots/figure_support.h"

namespace ohmtilt::plots {
namespace {

const std::string long_text(400, 'W');

Array rising(double low, double high, Eigen::Index count) {
  return (Array::LinSpaced(count, std::log(low), std::log(high))).exp();
}

PadFigure invented_pads(std::size_t groups) {
  PadFigure figure{"Invented", "L 18 / 9.1", "caption", "exact L, 10 dB", {}, {}, {}, {},
                   0,          {},           {}};
  figure.exact_output_ohm = rising(0.1, 100, 30);
  figure.exact_milliampere = 200 / figure.exact_output_ohm;
  figure.exact_span_db = figure.exact_output_ohm / 12;
  for (std::size_t i = 0; i < groups; ++i)
    figure.pads.push_back(
        {"group " + std::to_string(i), {1, 4, 90}, {210, 55, 2.5}, {0.1, 0.3, 7}});
  figure.recommended_ohm = 4;
  figure.recommended_label = "L 18 / 9.1";
  return figure;
}

TEST(PadSheet, KeepsOneKeyAndTheSimplePadsOnTop) {
  const Sheet sheet = sheet_of(invented_pads(3));
  EXPECT_EQ(sheet.panels[0].points.back().label, "group 0");
  EXPECT_EQ(sheet.panels[0].points.back().series, 0);
  for (const Points& points : sheet.panels[1].points) EXPECT_EQ(points.label, "");
  EXPECT_EQ(sheet.panels[1].lines[0].label, "");
}

TEST(PadSheet, ShowsTheTradeAndThePads) {
  const Sheet sheet = sheet_of(invented_pads(2));
  ASSERT_EQ(sheet.panels.size(), 2u);
  for (const Panel& panel : sheet.panels) {
    EXPECT_EQ(panel.lines.size(), 1u);
    ASSERT_EQ(panel.points.size(), 2u);
    EXPECT_NE(panel.points[0].series, panel.points[1].series);
    ASSERT_FALSE(panel.rules.empty());
    EXPECT_EQ(panel.rules[0].at, 4);
    // Nothing lies outside.
    EXPECT_LE(panel.x.low, 0.1);
    EXPECT_GE(panel.x.high, 100);
    EXPECT_LE(panel.y.low, panel.lines[0].y.minCoeff());
    EXPECT_GE(panel.y.high, panel.lines[0].y.maxCoeff());
  }
  EXPECT_EQ(sheet.panels[0].remark, "recommended: L 18 / 9.1");
}

TEST(PadSheet, MarksTheAmplifiersLimitAndHoldsItInTheAxis) {
  PadFigure figure = invented_pads(1);
  figure.limit_milliampere = 1e5;
  const Panel panel = sheet_of(figure).panels[0];
  ASSERT_EQ(panel.rules.size(), 2u);
  EXPECT_EQ(panel.rules[1].at, 1e5);
  EXPECT_GE(panel.y.high, 1e5);
  EXPECT_EQ(panel.notes.size(), 1u);
}

TEST(PadSheet, IsLaidOutForAnyTextAndNumberOfGroups) {
  for (const std::size_t groups : {0u, 1u, 7u}) {
    PadFigure figure = invented_pads(groups);
    test::expect_laid_out(sheet_of(figure));
    figure.conclusion = figure.earphone_title = figure.caption = long_text;
    test::expect_laid_out(sheet_of(figure));
  }
}

AttenuatorFigure invented_switch() {
  AttenuatorFigure figure{"Invented", "title", "caption", Array(3), Array(3), Array(3)};
  figure.attenuation_db << 0, 6, 20;
  figure.output_ohm << 0.3, 8, 3;
  figure.span_db << 0, 2.5, 1;
  return figure;
}

TEST(AttenuatorSheet, HasAMarkAStepInBothPanels) {
  const Sheet sheet = sheet_of(invented_switch());
  ASSERT_EQ(sheet.panels.size(), 2u);
  EXPECT_TRUE(sheet.panels[0].shares_x);
  for (const Panel& panel : sheet.panels) {
    ASSERT_EQ(panel.points.size(), 1u);
    EXPECT_EQ(panel.points[0].x.size(), 3);
    EXPECT_LE(panel.y.low, 0);  // both start at nothing, so heights compare
    EXPECT_LE(panel.x.low, 0);
    EXPECT_GE(panel.x.high, 20);
  }
  EXPECT_GE(sheet.panels[0].y.high, 8);
  EXPECT_GE(sheet.panels[1].y.high, 2.5);
}

TEST(AttenuatorSheet, IsLaidOutForAnyText) {
  AttenuatorFigure figure = invented_switch();
  test::expect_laid_out(sheet_of(figure));
  figure.conclusion = figure.earphone_title = figure.caption = long_text;
  test::expect_laid_out(sheet_of(figure));
}

FlattenFigure invented_network() {
  FlattenFigure figure;
  figure.earphone_title = "Invented";
  figure.conclusion = "2 branches";
  figure.caption = "caption";
  figure.frequency_hz = log_grid({20, 20000}, 60);
  figure.before_ohm = 20 + 10 * figure.frequency_hz.log().sin();
  figure.after_ohm = Array::Constant(60, 9);
  figure.least_ohm = 4.5;
  figure.source_ohm = rising(0.1, 10, 20);
  figure.before_db = figure.source_ohm / 3;
  figure.after_db = figure.source_ohm / 20;
  figure.limit_db = 1;
  return figure;
}

TEST(FlattenSheet, ShowsBothCurvesTheFloorAndTheLimit) {
  const Sheet sheet = sheet_of(invented_network());
  ASSERT_EQ(sheet.panels.size(), 2u);
  for (const Panel& panel : sheet.panels) {
    ASSERT_EQ(panel.lines.size(), 2u);
    EXPECT_EQ(panel.lines[0].label, "earphone alone");
    EXPECT_EQ(panel.lines[1].label, "with the network");
    ASSERT_EQ(panel.rules.size(), 1u);
    EXPECT_LE(panel.y.low, panel.rules[0].at);
    EXPECT_GE(panel.y.high, panel.rules[0].at);
  }
  EXPECT_EQ(sheet.panels[0].rules[0].at, 4.5);
  EXPECT_EQ(sheet.panels[1].rules[0].at, 1);
  EXPECT_FALSE(sheet.panels[0].shares_x);  // frequency above, source below
}

TEST(FlattenSheet, IsLaidOutEvenWhereTheCurvesMeet) {
  FlattenFigure figure = invented_network();
  test::expect_laid_out(sheet_of(figure));
  figure.after_ohm = figure.before_ohm;
  figure.after_db = figure.before_db;
  figure.conclusion = figure.earphone_title = figure.caption = long_text;
  test::expect_laid_out(sheet_of(figure));
}

TEST(EqualizerSheet, IsLaidOutEvenWhereTheCurvesMeet) {
  const Array hz = log_grid({20, 20000}, 100);
  const Array none = Array::Zero(100);
  EqualizerFigure figure{
      long_text, long_text, long_text, hz, none, none, none, rising(20, 20000, 10), none};
  test::expect_laid_out(sheet_of(figure));
}

TEST(DesignFigures, AreDrawn) {
  const test::Scratch folder;
  EXPECT_NO_THROW(draw(invented_pads(3), test::to_file(folder / "pads.svg")));
  EXPECT_NO_THROW(draw(invented_switch(), test::to_file(folder / "switch.svg")));
  EXPECT_NO_THROW(draw(invented_network(), test::to_file(folder / "network.svg")));
  for (const char* name : {"pads.svg", "switch.svg", "network.svg"})
    EXPECT_GT(std::filesystem::file_size(folder / name), 1000u) << name;
}

}  // namespace
}  // namespace ohmtilt::plots
