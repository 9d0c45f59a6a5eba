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

TEST(MatchedPad, RefusesWhatCannotBe) {
  EXPECT_THROW(matched_pad(PadTopology::series, 50, 6), InputError);
  EXPECT_THROW(matched_pad(PadTopology::T, 0, 6), InputError);
  EXPECT_THROW(matched_pad(PadTopology::T, 50, 0), InputError);
}

}  // namespace
}  // namespace ohmtilt::test
