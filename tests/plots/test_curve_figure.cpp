#include <gtest/gtest.h>

#include <ohmtilt/base/frequency_grid.h>
#include <plots/figures/curve_figure.h>

namespace ohmtilt::plots {
namespace {

CurveFigure invented_curve() {
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
  const Sheet sheet = sheet_of(invented_curve());
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
  CurveFigure figure = invented_curve();
  figure.resonances = {
      {100, 20, "100 Hz"}, {1000, 25, "1 kHz"}, {19000, 24, "19 kHz"}, {1050, 24, "1.05 kHz"}};
  figure.findings = {{500, 22, "stray point"}, {600, 22, "stray point"}, {700, 21, "jump"}};
  const Panel panel = sheet_of(figure).panels[0];
  ASSERT_EQ(panel.points.size(), 3u);
  EXPECT_EQ(panel.points[1].label, "stray point");
  EXPECT_EQ(panel.points[1].x[1], 600);
  EXPECT_NE(panel.points[1].series, panel.points[2].series);
  // Texts stand above their marks and within the panel; of two that would meet the higher one.
  ASSERT_EQ(panel.notes.size(), 3u);
  for (const Note& note : panel.notes) {
    EXPECT_GT(note.y, 20);
    EXPECT_NE(note.text, "1.05 kHz");
    EXPECT_EQ(note.side, note.text == "19 kHz" ? Note::Side::right : Note::Side::centre);
  }
}

TEST(CurveSheet, KeepsTextsOffTheFlankOfALine) {
  CurveFigure figure = invented_curve();
  figure.compared = {};
  const Array octaves = (figure.frequency_hz / 1000).log() / std::log(2.0);
  figure.magnitude_ohm = 10 * (1 - octaves).max(1);  // falls to 1 kHz, flat from there on
  figure.resonances = {{1000, 10, "1 kHz"}};
  EXPECT_EQ(sheet_of(figure).panels[0].notes.at(0).side, Note::Side::left);
  figure.magnitude_ohm = 10 * (1 + octaves).max(1);
  EXPECT_EQ(sheet_of(figure).panels[0].notes.at(0).side, Note::Side::right);
}

TEST(CurveSheet, DrawsASmoothLineThroughFewPoints) {
  CurveFigure figure = invented_curve();
  figure.smooth_hz = log_grid({20, 20000}, 300);
  figure.smooth_ohm = 20 + 5 * figure.smooth_hz.log().sin();
  const Panel panel = sheet_of(figure).panels[0];
  EXPECT_EQ(panel.lines[0].x.size(), 300);
  EXPECT_EQ(panel.points[0].x.size(), 100);
}

TEST(CurveSheet, LeavesOutWhatIsNotThere) {
  CurveFigure figure = invented_curve();
  figure.phase_deg = Array();
  figure.compared = {};
  figure.residuals.clear();
  const Sheet sheet = sheet_of(figure);
  ASSERT_EQ(sheet.panels.size(), 1u);
  EXPECT_FALSE(sheet.panels[0].shares_x);
}

}  // namespace
}  // namespace ohmtilt::plots
