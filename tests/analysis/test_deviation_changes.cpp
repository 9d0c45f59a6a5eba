#include <ohmtilt/analysis/deviation/deviation_changes.h>
#include <ohmtilt/chain/read_chain.h>

#include "tests/support.h"

namespace ohmtilt::test {
namespace {

std::filesystem::path demo_file(const std::string& name) {
  return source_dir() / "impedance-curves" / name;
}

/// The span of a chain with a pad of series ohm behind 0.3 ohm.
Chain padded(double series_ohm) {
  Source source;
  source.output_ohm = 0.3;
  return {"padded", source, {Pad{PadTopology::L, {series_ohm, 9.1}, 0}}};
}

TEST(DeviationChanges, AreThoseOfTheChangedChain) {
  const Earphone earphone = read_earphone(demo_file("two-way-armature.circuit.toml"));
  const DeviationGrid grid =
      deviation_grid(Band{}, 120, AnchorFrequency{}, earphone.impedance.range());
  const auto from = resistive_source(1);
  const auto changes = deviation_changes(grid, earphone, from, thevenin_source(padded(18)));
  const ComplexArray load = earphone.impedance.at(grid.all_hz());
  const auto of = [&](double ohm) {
    return deviation(grid, load, from.at(grid.all_hz()),
                     thevenin_source(padded(ohm)).at(grid.all_hz()));
  };
  int seen = 0;
  for (const auto& one : changes) {
    if (one.of == ChangeOf::from) {
      EXPECT_EQ(one.changed.quantity, "impedance");
      const Deviation after = deviation(grid, load, resistive_source(1.01).at(grid.all_hz()),
                                        thevenin_source(padded(18)).at(grid.all_hz()));
      EXPECT_NEAR(one.span_db, after.span_db - of(18).span_db, 1e-9);
      ++seen;
    }
    if (one.of == ChangeOf::to && one.changed.part == "stage 1: pad.series") {
      EXPECT_NEAR(one.span_db, of(1.01 * 18).span_db - of(18).span_db, 1e-9);
      EXPECT_LT(
          (one.deviation_db - (of(1.01 * 18).deviation_db - of(18).deviation_db)).abs().maxCoeff(),
          1e-9);
      ++seen;
    }
  }
  EXPECT_EQ(seen, 2);
  for (std::size_t i = 1; i < changes.size(); ++i)
    EXPECT_GE(std::abs(changes[i - 1].span_db), std::abs(changes[i].span_db));
  // Every figure of both drivers is there.
  EXPECT_TRUE(std::any_of(changes.begin(), changes.end(), [](const DeviationChange& one) {
    return one.of == ChangeOf::earphone && one.changed.quantity == "resonance.1.q";
  }));
}

TEST(DeviationChanges, OfACurveAreThoseOfItsSize) {
  const Earphone earphone = read_earphone(demo_file("two-way-armature.csv"));
  const DeviationGrid grid =
      deviation_grid(Band{}, 60, AnchorFrequency{}, earphone.impedance.range());
  // Scaling Z by 1.01 is scaling both sources by 1/1.01.
  const auto changes = deviation_changes(grid, earphone, resistive_source(0), resistive_source(6));
  ASSERT_EQ(changes.size(), 2u);
  const ComplexArray load = earphone.impedance.at(grid.all_hz());
  const auto with = [&](double ohm) {
    return deviation(grid, load, resistive_source(0).at(grid.all_hz()),
                     resistive_source(ohm).at(grid.all_hz()));
  };
  for (const auto& one : changes)
    EXPECT_NEAR(one.span_db,
                with(one.of == ChangeOf::to ? 6.06 : 6 / 1.01).span_db - with(6).span_db, 1e-9);
}

}  // namespace
}  // namespace ohmtilt::test
