#include <gtest/gtest.h>

#include <ohmtilt/base/frequency_grid.h>
#include <plots/figures/equalizer_figure.h>

namespace ohmtilt::plots {
namespace {

EqualizerFigure invented_filters() {
  const Array hz = log_grid({20, 20000}, 100);
  const Array db = 2 * hz.log().sin();
  return {"Invented", "title", "caption", hz, db, -db, 0.1 * db, Array::Constant(2, 1000), Array()};
}

TEST(EqualizerSheet, ShowsDeviationCorrectionAndResidual) {
  const Sheet sheet = sheet_of(invented_filters());
  ASSERT_EQ(sheet.panels.size(), 2u);
  EXPECT_EQ(sheet.title, "title");
  ASSERT_EQ(sheet.panels[0].lines.size(), 2u);
  EXPECT_EQ(sheet.panels[0].lines[0].label, "deviation");
  EXPECT_EQ(sheet.panels[0].lines[1].label, "correction");
  EXPECT_EQ(sheet.panels[1].lines.size(), 1u);
  EXPECT_TRUE(sheet.panels[0].shares_x);
  EXPECT_FALSE(sheet.panels[1].shares_x);
  // Both curves lie within the axis, and a residual too small to hear looks flat.
  EXPECT_LT(sheet.panels[0].y.low, -2);
  EXPECT_GT(sheet.panels[0].y.high, 2);
  EXPECT_GE(sheet.panels[1].y.high - sheet.panels[1].y.low, 1);
}

TEST(EqualizerSheet, AddsAFirAndTheFilters) {
  EqualizerFigure figure = invented_filters();
  EXPECT_EQ(sheet_of(figure).panels[0].rules.size(), 3u);  // zero and two filters
  figure.fir_residual_db = figure.residual_db / 2;
  figure.filter_hz = Array();
  const Sheet sheet = sheet_of(figure);
  EXPECT_EQ(sheet.panels[1].lines.size(), 2u);
  EXPECT_EQ(sheet.panels[0].rules.size(), 1u);
  EXPECT_TRUE(sheet.panels[0].remark.empty());
}

}  // namespace
}  // namespace ohmtilt::plots
