#include <gtest/gtest.h>

#include <ohmtilt/base/frequency_grid.h>
#include <plots/curve_figure.h>

namespace ohmtilt::plots {
namespace {

CurveFigure invented() {
  CurveFigure figure;
  figure.conclusion = "title";
  figure.frequency_hz = log_grid({20, 20000}, 100);
  figure.magnitude_ohm = 20 + 5 * figure.frequency_hz.log().sin();
  figure.phase_deg = 30 * figure.frequency_hz.log().cos();
  figure.compared = {"model", 1.5 * figure.magnitude_ohm, 2 * figure.phase_deg};
  figure.residuals = {{"one", 0.01 * figure.phase_deg}, {"two", -0.1 * figure.phase_deg}};
  return figure;
}

TEST(CurveSheet, ShowsTheCurveWhatItIsHeldAgainstAndWhatIsLeft) {
  const Sheet sheet = curve_sheet(invented());
  ASSERT_EQ(sheet.panels.size(), 3u);
  EXPECT_EQ(sheet.panels[0].lines.size(), 2u);
  EXPECT_EQ(sheet.panels[0].lines[0].series, ink);  // the measured one, below the other
  EXPECT_EQ(sheet.panels[1].lines[1].label, "model");
  EXPECT_EQ(sheet.panels[2].lines.size(), 2u);
  EXPECT_GT(sheet.panels[0].y.high, 37.4);  // both curves are inside
  EXPECT_GT(sheet.panels[1].y.high, 59.9);
  EXPECT_FALSE(sheet.panels[2].shares_x);
  EXPECT_TRUE(sheet.panels[0].points.empty());
}

TEST(CurveSheet, MarksResonancesAndFindings) {
  CurveFigure figure = invented();
  figure.resonances = {{100, 20, "100 Hz"}, {1000, 25, "1 kHz"}};
  figure.findings = {{500, 22, "outlier"}};
  const Panel panel = curve_sheet(figure).panels[0];
  ASSERT_EQ(panel.points.size(), 2u);
  EXPECT_EQ(panel.points[0].texts, (std::vector<std::string>{"100 Hz", "1 kHz"}));
  EXPECT_EQ(panel.points[1].x[0], 500);
  EXPECT_NE(panel.points[0].series, panel.points[1].series);
}

TEST(CurveSheet, LeavesOutWhatIsNotThere) {
  CurveFigure figure = invented();
  figure.phase_deg = Array();
  figure.compared = {};
  figure.residuals.clear();
  const Sheet sheet = curve_sheet(figure);
  ASSERT_EQ(sheet.panels.size(), 1u);
  EXPECT_FALSE(sheet.panels[0].shares_x);
}

}  // namespace
}  // namespace ohmtilt::plots
