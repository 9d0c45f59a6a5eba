// What an amplifier's volt does through its stages.
#include <ohmtilt/analysis/level/drive.h>

#include "tests/analysis/levels.h"

namespace ohmtilt::test {
namespace {

const Array hz = (Array(4) << 100, 20000, 20, 100).finished();

TEST(Drive, IsOhmsLaw) {
  // 1 + 3 ohm in series into 12 ohm with 4 ohm across: by hand 3 / 7 of a volt.
  const Chain chain("", source(1, 1), {Pad{PadTopology::L, {3, 4}, 0}});
  const ChainDrive found = drive(chain, resistive_earphone(12), hz);
  EXPECT_NEAR(found.terminal_volt[0], 3 / 7.0, 1e-14);
  EXPECT_NEAR(found.terminal_ampere[0], 3 / 7.0 / 12, 1e-15);
  EXPECT_NEAR(found.source_ampere[0], 1 / 7.0, 1e-14);
  EXPECT_NEAR(found.output_ohm[0].real(), 2, 1e-14);
}

TEST(SampledEarphone, IsTheSameEarphone) {
  const Earphone whole =
      read_earphone(source_dir() / "impedance-curves/five-armature.earphone.toml");
  ASSERT_TRUE(whole.circuit);
  const Earphone some = sampled(whole, hz);
  const Array other = (Array(3) << 100, 333, 1000).finished();
  for (const Array& asked : {hz, other})
    EXPECT_LT(((some.impedance.at(asked) - whole.impedance.at(asked)) / whole.impedance.at(asked))
                  .abs()
                  .maxCoeff(),
              1e-12);
}

}  // namespace
}  // namespace ohmtilt::test
