#include <ohmtilt/chain/matched_pad.h>
#include <ohmtilt/text/error.h>

#include "tests/support.h"

namespace ohmtilt::test {
namespace {

void expect_values(const Pad& pad, const std::vector<double>& expected) {
  ASSERT_EQ(pad.ohm.size(), expected.size());
  for (std::size_t i = 0; i < expected.size(); ++i)  // six digits are printed
    EXPECT_NEAR(pad.ohm[i] / expected[i], 1, 1e-5) << topology_name(pad.topology) << " " << i;
}

// pads_computed.csv (Bird ch. 41; see the file): the formulas' values for five resistances and
// seven losses.
TEST(MatchedPad, EqualsTheTable) {
  int rows = 0;
  for (const auto& row : csv_rows(data("pads_computed.csv"))) {
    const double z = test::number(row, "Z_ohm");
    const double db = test::number(row, "loss_dB");
    const auto of = [&](const char* column) { return test::number(row, column); };
    const auto matched = [&](PadTopology topology) { return matched_pad(topology, z, db); };
    expect_values(matched(PadTopology::T), {of("T_series"), of("T_shunt"), of("T_series")});
    expect_values(matched(PadTopology::pi), {of("Pi_shunt"), of("Pi_series"), of("Pi_shunt")});
    expect_values(matched(PadTopology::H),
                  {of("H_series_each"), of("H_shunt"), of("H_series_each")});
    expect_values(matched(PadTopology::O), {of("O_shunt"), of("O_series_each"), of("O_shunt")});
    expect_values(matched(PadTopology::bridged_T),
                  {z, z, of("BridgedT_shunt"), of("BridgedT_bridge")});
    expect_values(matched(PadTopology::L), {of("L_series"), of("L_shunt")});
    ++rows;
  }
  EXPECT_EQ(rows, 35);
}

// 600 ohm to 250, to 150, and 75 to 50 ohm: the formulas of unequal T and pi pads (common practice,
// no source) computed with NumPy, and checked by a nodal analysis there to 13 digits.
TEST(MatchedPad, BetweenUnequalResistancesEqualsTheWorkedCases) {
  const auto t = [](double in, double out, double db) {
    return matched_pad_between(PadTopology::T, in, out, db);
  };
  const auto pi = [](double in, double out, double db) {
    return matched_pad_between(PadTopology::pi, in, out, db);
  };
  expect_values(t(600, 250, 20), {533.8791, 78.2421, 176.8084});
  expect_values(pi(600, 250, 20), {848.3759, 1917.1268, 280.9625});
  expect_values(t(600, 150, 20), {551.5152, 60.6061, 92.4242});
  expect_values(pi(600, 150, 20), {973.7705, 1485.0, 163.1868});
  expect_values(t(75, 50, 10), {48.6335, 43.0331, 18.0780});
  expect_values(pi(75, 50, 10), {207.4349, 87.1421, 77.1073});
}

// Bird, ch. 41, ex. 15 (500 to 100 ohm) and Roddy and Coolen, ex. 1.2.4 (75 to 50 ohm), as listed
// in pads_published_examples.csv; 5.719 dB: computed from the textbook formula.
TEST(MatchedPad, OfLeastLossEqualsTheBooks) {
  const Pad bird = minimum_loss_pad(500, 100);
  EXPECT_NEAR(bird.ohm[0], 447.21, 0.005);
  EXPECT_NEAR(bird.ohm[1], 111.80, 0.005);
  const Pad roddy = minimum_loss_pad(75, 50);
  EXPECT_NEAR(roddy.ohm[0], 43.3, 0.05);
  EXPECT_NEAR(roddy.ohm[1], 86.61, 0.01);  // printed with 86.6025 cut upwards
  EXPECT_NEAR(minimum_loss_db(75, 50), 5.719, 0.0006);
  EXPECT_EQ(minimum_loss_db(50, 50), 0);
}

TEST(MatchedPad, AtLeastLossIsTheLPad) {
  const Pad least = minimum_loss_pad(75, 50);
  const Pad t = matched_pad_between(PadTopology::T, 75, 50, minimum_loss_db(75, 50) + 1e-9);
  EXPECT_NEAR(t.ohm[0], least.ohm[0], 1e-5);
  EXPECT_NEAR(t.ohm[1], least.ohm[1], 1e-5);
  EXPECT_NEAR(t.ohm[2], 0, 1e-5);
}

TEST(MatchedPad, RefusesWhatCannotBe) {
  EXPECT_THROW(matched_pad(PadTopology::series, 50, 6), InputError);
  EXPECT_THROW(matched_pad(PadTopology::T, 0, 6), InputError);
  EXPECT_THROW(matched_pad(PadTopology::T, 50, 0), InputError);
  EXPECT_THROW(matched_pad_between(PadTopology::T, 75, 50, 5), InputError);
  EXPECT_THROW(matched_pad_between(PadTopology::L, 75, 50, 10), InputError);
  EXPECT_THROW(minimum_loss_pad(50, 50), InputError);
}

}  // namespace
}  // namespace ohmtilt::test
