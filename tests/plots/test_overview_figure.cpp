// The deviations of many earphones in one figure.
#include <plots/figures/overview_figure.h>

#include "tests/plots/figure_support.h"

namespace ohmtilt::plots {
namespace {

OverviewFigure of(std::size_t count) {
  OverviewFigure figure;
  for (std::size_t i = 0; i < count; ++i) {
    const Array hz = log_grid({20.0 + static_cast<double>(i), 20000}, 60);
    figure.curves.push_back(
        {"earphone " + std::to_string(i + 1), hz, hz.log() / (1 + static_cast<double>(i))});
  }
  return figure;
}

TEST(OverviewSheet, NamesTheCurvesThatChangeMost) {
  const Panel panel = sheet_of(of(12)).panels.at(0);
  ASSERT_EQ(panel.lines.size(), 12u);
  EXPECT_EQ(panel.lines.back().label, "earphone 1");
  EXPECT_EQ(panel.lines.back().series, 0);
  EXPECT_EQ(panel.lines.front().label, "");
  EXPECT_EQ(panel.lines.front().series, ink);
  EXPECT_LE(panel.x.low, 20);
}

TEST(OverviewSheet, IsLaidOutForAnyNumber) {
  for (const std::size_t count : {1u, 2u, 8u, 40u}) test::expect_laid_out(sheet_of(of(count)));
}

}  // namespace
}  // namespace ohmtilt::plots
