// What a bias voltage at the output means for an earphone, and its lack for one that needs it.
#include <ohmtilt/chain/bias.h>
#include <ohmtilt/chain/chain.h>
#include <ohmtilt/circuit/read_circuit.h>

#include <cmath>

#include "tests/analysis/levels.h"

namespace ohmtilt::test {
namespace {

std::optional<std::string> caution(const Chain& chain, const Earphone& earphone) {
  return bias_caution(thevenin_source(chain), earphone);
}

Source biased(double output_ohm, double volt) {
  Source source;
  source.output_ohm = output_ohm;
  source.bias_volt = volt;
  return source;
}

Chain biased_behind(const Stage& stage) { return {"", biased(1, 0.17), {stage}}; }

/// A stage with that part from in to out.
Stage in_series(const std::string& part) {
  const std::string toml =
      "reference = \"0\"\n[ports]\nin = [\"a\", \"0\"]\nout = [\"b\", \"0\"]\n"
      "[[part]]\nname = \"across\"\nkind = \"resistor\"\nnodes = [\"a\", \"0\"]\nohm = 1e6\n" +
      part;
  return CircuitStage{std::make_shared<const Circuit>(parse_circuit(toml, "stage", ".").value),
                      "stage"};
}

// Physics: no direct current comes through a capacitor or from one winding to another; a resistor
// and a coil let it pass, a pad divides it.
TEST(BiasCaution, AsksForADirectCurrentPath) {
  const Earphone earphone = resistive_earphone(16);
  const std::string capacitor =
      "[[part]]\nname = \"C\"\nkind = \"capacitor\"\nnodes = [\"a\", \"b\"]\nfarad = 1e-3\n";
  const std::string coil =
      "[[part]]\nname = \"L\"\nkind = \"inductor\"\nnodes = [\"a\", \"b\"]\nhenry = 1\n";
  const std::string windings =
      "[[part]]\nname = \"T\"\nkind = \"transformer\"\nnodes = [\"a\", \"0\", \"b\", \"0\"]\nratio "
      "= 2\n";
  for (const Stage& stage :
       {in_series(capacitor), in_series(windings), Stage(TransformerStage{2, 0})}) {
    const auto found = caution(biased_behind(stage), earphone);
    ASSERT_TRUE(found);
    EXPECT_NE(found->find("before it is certain that a capacitor or a transformer"),
              std::string::npos)
        << *found;
  }
  EXPECT_NE(caution(biased_behind(in_series(coil)), earphone)->find("10 mA of direct current"),
            std::string::npos);
  // By hand: 0.17 V / (1 + 8 + 8) ohm are 10 mA, of which 16 ohm across the earphone take half.
  EXPECT_NE(caution(biased_behind(Pad{PadTopology::L, {8, 16}, 0}), earphone)
                ->find("about 5 mA of direct current"),
            std::string::npos);
}

bool says(const std::optional<std::string>& caution, const std::string& text) {
  return caution && caution->find(text) != std::string::npos;
}

/// A driver that needs 2.5 V; it blocks direct current or is a resistor of 1 kohm.
Earphone needing(bool blocks) {
  Earphone earphone = resistive_earphone(1000);
  earphone.needed_bias_volt = 2.5;
  earphone.blocks_direct_current = blocks;
  return earphone;
}

// By hand: 2.5 V behind 500 ohm are 1.67 V across 1 kohm, and 2.5 V across what draws nothing.
TEST(BiasCaution, OfADriverThatNeedsOneDependsOnWhatArrives) {
  const Chain right("", biased(500, 2.5), {});
  EXPECT_FALSE(says(caution(right, needing(true)), "do not connect"));
  EXPECT_TRUE(says(caution(right, needing(true)), "connect no other earphone"));
  EXPECT_TRUE(says(caution(right, needing(false)), "gets 1.667 V of the output's 2.5 V"));
  EXPECT_TRUE(says(caution(right, needing(false)), "do not connect the earphone"));
  EXPECT_FALSE(says(caution(Chain("", biased(10, 2.5), {}), needing(false)), "do not connect"));
  EXPECT_TRUE(says(caution(Chain("", biased(1, 5), {}), needing(true)), "do not connect"));
  EXPECT_TRUE(says(caution(Chain("", biased(1, -2.5), {}), needing(true)), "do not connect"));
  EXPECT_TRUE(says(caution(Chain("", biased(1, 0), {}), needing(true)), "carries none"));
  Source coupled = biased(1, 2.5);
  coupled.output_farad = 1e-3;
  EXPECT_TRUE(
      says(caution(Chain("", coupled, {}), needing(true)), "keeps the output's 2.5 V away"));
  EXPECT_FALSE(bias_caution(resistive_source(1), needing(true)));  // a number states nothing
}

TEST(BiasCaution, BelievesWhatTheFileSaysOfTheTerminals) {
  Earphone earphone = resistive_earphone(16);
  earphone.blocks_direct_current = true;
  const Chain chain("", biased(1, 0.17), {});
  EXPECT_TRUE(says(caution(chain, earphone), "blocks the current, not the voltage"));
  EXPECT_FALSE(says(caution(chain, earphone), "mA"));
  earphone.impedance = OnePort(
      {20, 20000}, [](const Array& hz) -> ComplexArray { return 1.0 / (Complex(0, 1e-6) * hz); });
  EXPECT_TRUE(says(caution(chain, earphone), "blocks the current"));
  earphone.blocks_direct_current.reset();
  EXPECT_TRUE(says(caution(chain, earphone), "before it is certain that a capacitor"));
  earphone.blocks_direct_current = false;
  EXPECT_TRUE(says(caution(chain, earphone), "mA of direct current"));
}

TEST(BiasCaution, NamesEachOfSeveralSources) {
  const Earphone earphone = resistive_earphone(16);
  const TheveninSource a = thevenin_source(Chain("A", biased(1, 0.17), {}));
  const TheveninSource b = thevenin_source(Chain("B", biased(1, 0), {}));
  const auto all = bias_cautions({b, a, a}, earphone);
  ASSERT_EQ(all.size(), 1u);
  EXPECT_EQ(all[0].rfind("with A, the output carries 0.17 V of bias", 0), 0u) << all[0];
  EXPECT_EQ(bias_cautions({a}, earphone).at(0).rfind("the output carries", 0), 0u);
  EXPECT_FALSE(bias_note(b));
  EXPECT_EQ(bias_note(a)->rfind("the output carries 0.17 V", 0), 0u);
}

TEST(BiasKeys, AreRead) {
  const std::string file = "impedance = \"two-way-armature.csv\"\n";
  const auto read = [&](const std::string& keys) {
    return parse_earphone(file + keys, "x.earphone.toml", source_dir() / "impedance-curves");
  };
  EXPECT_FALSE(read("").needed_bias_volt);
  EXPECT_FALSE(read("").blocks_direct_current);
  const auto given = read("needed_bias_volt = -12\nblocks_direct_current = true\n");
  EXPECT_EQ(given.needed_bias_volt, -12);
  EXPECT_EQ(given.blocks_direct_current, true);
  EXPECT_ANY_THROW(read("needed_bias_volt = 0\n"));
  EXPECT_ANY_THROW(read("blocks_direct_current = 1\n"));
}

}  // namespace
}  // namespace ohmtilt::test
