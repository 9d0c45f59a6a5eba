#include <plots/figures/damping_figure.h>

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace ohmtilt::plots {
namespace {

const Array ohm = (Array(4) << 0.1, 1, 10, 1000).finished();
const Array at_sources = (Array(2) << 1200, 1100).finished();

/// A mode whose decay falls by a tenth from end to end while it keeps its frequency: what the
/// locus of a single driver looks like.
DampedModeCurve narrow_mode() {
  const Array decay = (Array(4) << 1250, 1200, 1150, 1130).finished();
  const Array oscillation = (Array(4) << 440, 441, 445, 450).finished();
  return {"driver, 480 Hz",
          2 * std::numbers::pi * oscillation / (2 * decay),
          decay,
          oscillation,
          at_sources,
          (Array(2) << 441, 446).finished()};
}

DampingFigure invented_modes() {
  DampingFigure figure;
  figure.conclusion = "6 ohm instead of 0.3 ohm";
  figure.earphone_title = "Invented";
  figure.source_ohm = ohm;
  figure.modes = {narrow_mode()};
  figure.time_ms = Array::LinSpaced(5, 0, 4);
  figure.sources = {{"0.3 ohm", 0.3, (Array(5) << 1, 1, 0.5, 1e-2, 1e-5).finished()},
                    {"6 ohm", 6, (Array(5) << 0.5, 0.5, 0.4, 1e-1, 1e-2).finished()}};
  figure.burst_end_ms = 2;
  figure.burst_heading = "8 cycles at 480 Hz";
  return figure;
}

void expect_within(const Axis& axis, const Array& values) {
  for (const double value : values) {
    if (!std::isfinite(value)) continue;
    EXPECT_GT(axis.fraction(value), 0.02);
    EXPECT_LT(axis.fraction(value), 0.98);
  }
}

TEST(DampingSheet, ShowsQTheLocusAndTheBurst) {
  const Sheet sheet = sheet_of(invented_modes());
  ASSERT_EQ(sheet.panels.size(), 3u);
  const Panel& q = sheet.panels[0];
  EXPECT_EQ(q.rules.size(), 2u);
  EXPECT_EQ(q.notes.at(1).text, "6 ohm");
  expect_within(q.y, q.lines.at(0).y);
}

TEST(DampingSheet, ANarrowLocusStandsInTheMiddleWithThreeTicksOrMore) {
  const Panel locus = sheet_of(invented_modes()).panels.at(1);
  for (const Axis* axis : {&locus.x, &locus.y}) {
    EXPECT_LT(axis->high / axis->low, 3);
    EXPECT_GE(axis->ticks.size(), 3u);
  }
  expect_within(locus.x, locus.lines.at(0).x);
  expect_within(locus.x, locus.points.at(0).x);
  expect_within(locus.y, locus.lines.at(0).y);
}

TEST(DampingSheet, AModeThatDoesNotOscillateHasNoLocus) {
  DampingFigure figure = invented_modes();
  figure.modes[0].oscillation_hz.setConstant(NAN);
  EXPECT_EQ(sheet_of(figure).panels.size(), 2u);
  figure.modes.clear();
  EXPECT_EQ(sheet_of(figure).panels.size(), 1u);
}

TEST(DampingSheet, TheBurstIsInDecibelsBelowTheLoudest) {
  const Panel burst = sheet_of(invented_modes()).panels.at(2);
  EXPECT_DOUBLE_EQ(burst.lines.at(0).y[0], 0);
  EXPECT_NEAR(burst.lines.at(1).y[0], -6.0206, 1e-4);  // 20 lg 0.5
  EXPECT_TRUE(std::isnan(burst.lines.at(0).y[4]));     // below -60 dB
  EXPECT_NEAR(burst.lines.at(1).y[4], -40, 1e-9);
  EXPECT_EQ(burst.rules.at(0).at, 2);
}

}  // namespace
}  // namespace ohmtilt::plots
