// The figures of headroom, hiss and crosstalk as values.
#include <plots/figures/crosstalk_figure.h>
#include <plots/figures/headroom_figure.h>
#include <plots/figures/hiss_figure.h>

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

namespace ohmtilt::plots {
namespace {

constexpr double infinite = std::numeric_limits<double>::infinity();
const Array hz = (Array(3) << 20, 1000, 20000).finished();

TEST(HeadroomSheet, LeavesOutLimitsThatAreNotThere) {
  HeadroomFigure figure;
  figure.frequency_hz = hz;
  figure.voltage_db = (Array(3) << 120, 118, 110).finished();
  figure.current_db = Array::Constant(3, infinite);
  figure.earphone_db = (Array(3) << 119, 119, 119).finished();
  const Panel panel = sheet_of(figure).panels.at(0);
  ASSERT_EQ(panel.lines.size(), 3u);
  EXPECT_EQ(panel.lines[0].label, "voltage");
  EXPECT_EQ(panel.lines[1].label, "earphone's power");
  EXPECT_LT(panel.y.low, 85);
  EXPECT_GT(panel.y.high, 120);
  figure.against_label = "another";
  figure.against_hz = hz;
  figure.against_db = Array::Constant(3, 131);
  const Panel both = sheet_of(figure).panels.at(0);
  ASSERT_EQ(both.lines.size(), 4u);
  EXPECT_EQ(both.lines[2].label, "another");
  EXPECT_GT(both.y.high, 131);
}

// Two chains that one limit of the earphone ends: one line, both names.
TEST(HeadroomSheet, NamesACurveThatLiesOnAnother) {
  HeadroomFigure figure;
  figure.frequency_hz = figure.against_hz = hz;
  figure.voltage_db = (Array(3) << 120, 118, 110).finished();
  figure.current_db = Array::Constant(3, infinite);
  figure.earphone_db = (Array(3) << 112, 113, 105).finished();
  figure.against_label = "another";
  figure.against_db = figure.earphone_db + 0.02;
  const Panel panel = limits_panel(figure);
  ASSERT_EQ(panel.lines.size(), 3u);
  EXPECT_EQ(panel.lines[1].label, "earphone's power; the same: another");
  figure.against_db[2] += 1;
  EXPECT_EQ(limits_panel(figure).lines.size(), 4u);
}

TEST(HeadroomSheet, ShowsTheTravelAndWhereTheChannelsDiffer) {
  HeadroomFigure figure;
  figure.frequency_hz = hz;
  figure.voltage_db = figure.current_db = figure.earphone_db = Array::Constant(3, 120);
  EXPECT_FALSE(travel_panel(figure));
  EXPECT_EQ(sheet_of(figure).panels.size(), 1u);
  figure.travel.push_back(
      {"0 dB gain", (Array(2) << 40, 110).finished(), (Array(2) << 3, 100).finished()});
  figure.imbalance = {{0, 33, 1}, {0, 3, 2}};
  const auto panel = travel_panel(figure);
  ASSERT_TRUE(panel);
  EXPECT_EQ(panel->x.low, 40);
  EXPECT_EQ(panel->y.high, 100);
  ASSERT_EQ(panel->areas.size(), 2u);
  EXPECT_NE(panel->areas[0].series, panel->areas[1].series);
  ASSERT_EQ(panel->lines.size(), 2u);
  EXPECT_EQ(panel->lines[1].x[0], 85);
  EXPECT_EQ(sheet_of(figure).panels.size(), 2u);
}

TEST(HissSheet, StandsItsBarsOnTheBottom) {
  HissFigure figure;
  figure.band_hz = (Array(3) << 100, 1000, 10000).finished();
  figure.band_low_hz = figure.band_hz / 1.12;
  figure.band_high_hz = figure.band_hz * 1.12;
  figure.band_db = (Array(3) << -90, -3, 7).finished();
  figure.threshold_db = (Array(3) << std::nan(""), 5.5, 20).finished();
  figure.against_db = (Array(3) << -120, -20, -10).finished();
  const Panel panel = sheet_of(figure).panels.at(0);
  ASSERT_EQ(panel.bars.size(), 1u);
  // 50 dB below the peak of the noise, on a step of 5 dB.
  EXPECT_EQ(panel.y.low, -45);
  EXPECT_EQ(panel.bars[0].base, -45);
  EXPECT_EQ(panel.bars[0].value[0], -45);
  EXPECT_TRUE(std::isnan(panel.points.at(0).y[0]));
  EXPECT_EQ(panel.points.at(0).y[1], -20);
  for (const auto& tick : panel.y.ticks) EXPECT_GE(tick.at, panel.y.low);
}

TEST(CrosstalkSheet, SaysWhereNothingCrosses) {
  CrosstalkFigure figure;
  figure.frequency_hz = hz;
  figure.separation_db = Array::Constant(3, infinite);
  figure.magnitude_ohm = Array::Constant(3, 16);
  Panel panel = sheet_of(figure).panels.at(0);
  EXPECT_TRUE(panel.lines.empty());
  EXPECT_EQ(panel.notes.at(0).text, "no crosstalk");
  figure.separation_db = (Array(3) << 40, 42, 44).finished();
  figure.four_wire_db = (Array(3) << 50, 52, 54).finished();
  panel = sheet_of(figure).panels.at(0);
  EXPECT_EQ(panel.lines.size(), 2u);
  EXPECT_TRUE(panel.notes.empty());
  EXPECT_GT(panel.y.high, 54);
  figure.four_wire_db = Array();
  figure.against_label = "another";
  figure.against_hz = hz;
  figure.against_db = Array::Constant(3, 61);
  panel = sheet_of(figure).panels.at(0);
  ASSERT_EQ(panel.lines.size(), 2u);
  EXPECT_EQ(panel.lines[0].label, "another");
  EXPECT_GT(panel.y.high, 61);
}

}  // namespace
}  // namespace ohmtilt::plots
