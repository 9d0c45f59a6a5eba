// A stage that is a two-port of a file is the network that the file was made of.
#include <ohmtilt/chain/chain_circuit.h>
#include <ohmtilt/chain/read_chain.h>
#include <ohmtilt/circuit/sampled_two_port.h>
#include <ohmtilt/circuit/thermal_noise.h>
#include <ohmtilt/curve/two_port_file.h>
#include <ohmtilt/text/error.h>

#include <random>

#include "tests/chain/chains.h"

namespace ohmtilt::test {
namespace {

using Random = std::mt19937;

double log_uniform(Random& random, double low, double high) {
  return low * std::pow(high / low, std::uniform_real_distribution<double>(0, 1)(random));
}

Part random_part(Random& random, const std::string& name, const std::string& a,
                 const std::string& b) {
  switch (random() % 3) {
    case 0:
      return resistor(name, a, b, log_uniform(random, 0.1, 1e4));
    case 1:
      return inductor(name, a, b, log_uniform(random, 1e-6, 1e-1), log_uniform(random, 0.01, 10));
    default:
      return capacitor(name, a, b, log_uniform(random, 1e-9, 1e-4), log_uniform(random, 0.01, 10));
  }
}

/// Ladder sections of a series and a shunt part, in any order, with a part from end to end.
Circuit random_network(Random& random) {
  CircuitDraft draft;
  draft.title = "network";
  draft.reference = "sleeve";
  std::string here = "a";
  const int sections = 1 + static_cast<int>(random() % 3);
  for (int i = 0; i < sections; ++i) {
    const std::string next = "n" + std::to_string(i), number = std::to_string(i);
    if (random() % 2 == 0) draft.parts.push_back(random_part(random, "p" + number, here, "sleeve"));
    draft.parts.push_back(random_part(random, "s" + number, here, next));
    here = next;
  }
  draft.parts.push_back(random_part(random, "p", here, "sleeve"));
  draft.parts.push_back(random_part(random, "bridge", "a", here));
  draft.ports = {{"in", "a", "sleeve"}, {"out", here, "sleeve"}};
  return Circuit(std::move(draft));
}

double worst(const ComplexArray& a, const ComplexArray& b) {
  return ((a - b).abs() / b.abs()).maxCoeff();
}

TEST(TwoPortStage, IsTheNetworkThatItWasWrittenFrom) {
  Random random(7);
  const Band band;
  for (int trial = 0; trial < 200; ++trial) {
    const Circuit network = random_network(random);
    const auto read = parse_two_port(
        two_port_text(sampled_two_port(network, "in", "out", band, 24), 1 + trial % 2), "n.s2p");
    EXPECT_TRUE(read.warnings.empty()) << trial << ": " << read.warnings.front();
    const Stage written =
        TwoPortStage{std::make_shared<const TwoPort>(two_port(read.value)), "n.s2p", false};
    const double ohm = log_uniform(random, 0.1, 100);
    const Stage inline_stage = CircuitStage{std::make_shared<const Circuit>(network), "n"};
    const Chain with = chain(ohm, {Pad{PadTopology::L, {4.7, 22}, 0}, written});
    const Chain without = chain(ohm, {Pad{PadTopology::L, {4.7, 22}, 0}, inline_stage});
    const Array& hz = read.value.frequency_hz;
    const auto a = thevenin_source(with).at(hz), b = thevenin_source(without).at(hz);
    // 1e-9 dB is 1.15e-10.
    EXPECT_LT(worst(a.output_ohm, b.output_ohm), 1e-10) << trial;
    EXPECT_LT(worst(a.open_ratio, b.open_ratio), 1e-10) << trial;
    const Array noise = thermal_noise(Circuit(chain_circuit(with)), hz).volt_per_root_hz;
    const Array truth = thermal_noise(Circuit(chain_circuit(without)), hz).volt_per_root_hz;
    EXPECT_LT((noise / truth - 1).abs().maxCoeff(), 1e-6) << trial;
  }
}

TEST(TwoPortStage, ReversedIsTheOtherWayRound) {
  Random random(8);
  const Circuit network = random_network(random);
  const auto data = sampled_two_port(network, "in", "out", Band{}, 24);
  const auto turned = sampled_two_port(network, "out", "in", Band{}, 24);
  const auto stage = [](const TwoPort& of) {
    return Stage(TwoPortStage{std::make_shared<const TwoPort>(of), "n.s2p", false});
  };
  const Array& hz = data.frequency_hz;
  const auto a = thevenin_source(chain(1, {stage(two_port(data).reversed())})).at(hz);
  const auto b = thevenin_source(chain(1, {stage(two_port(turned))})).at(hz);
  EXPECT_LT(worst(a.output_ohm, b.output_ohm), 1e-10);
  EXPECT_LT(worst(a.open_ratio, b.open_ratio), 1e-10);
}

// An ideal buffer of gain 2 and 10 ohm: S11 = 1, S12 = 0, S21 = 2 * 2 R/(R + 10), S22 = (10 -
// R)/(10
// + R), whatever drives it.
TEST(TwoPortStage, OfAnAmplifierIsOneWay) {
  const std::string row = " 1 0 3.3333333333333335 0 0 0 -0.66666666666666663 0\n";
  const auto read = parse_two_port("# Hz S RI R 50\n10" + row + "20000" + row, "a.s2p");
  EXPECT_EQ(read.warnings.size(), 2u);
  const Stage stage{
      TwoPortStage{std::make_shared<const TwoPort>(two_port(read.value)), "a", false}};
  for (const double ohm : {0.0, 1.0, 1000.0}) {
    EXPECT_NEAR(output_ohm(chain(ohm, {stage})).real(), 10, 1e-11);
    EXPECT_NEAR(std::abs(open_ratio(chain(ohm, {stage}))), 2, 1e-12);
  }
}

TEST(TwoPortStage, IsReadFromAFileAndWrittenBack) {
  const Scratch scratch;
  scratch.write("half.s2p", "# Hz S RI R 50\n20 0 0 .5 0 .5 0 .2 0\n9000 0 0 .5 0 .5 0 .2 0\n");
  const std::string toml =
      "[source]\noutput_ohm = 1\n[[stage]]\nkind = \"two-port\"\nfile = \"half.s2p\"\n"
      "source_port = 2\n";
  const auto read = parse_chain(toml, "c.chain.toml", scratch.folder());
  EXPECT_TRUE(read.warnings.empty());
  const Chain again = parse_chain(chain_text(read.value), "d.chain.toml", scratch.folder()).value;
  EXPECT_TRUE(std::get<TwoPortStage>(again.stages()[0]).reversed);
  EXPECT_EQ(output_ohm(again), output_ohm(read.value));
  EXPECT_EQ(thevenin_source(again).output.range().high_hz, 9000);
}

TEST(TwoPortStage, SaysWhatIsWrong) {
  const Scratch scratch;
  const auto refused = [&](const std::string& lines) {
    try {
      parse_chain("[source]\noutput_ohm = 1\n[[stage]]\nkind = \"two-port\"\n" + lines, "c.toml",
                  scratch.folder());
    } catch (const InputError& error) {
      return std::string(error.what());
    }
    return std::string("nothing was refused");
  };
  EXPECT_NE(refused("").find("file"), std::string::npos);
  scratch.write("half.s2p", "# Hz S RI R 50\n20 0 0 .5 0 .5 0 .2 0\n9000 0 0 .5 0 .5 0 .2 0\n");
  EXPECT_NE(refused("file = \"half.s2p\"\nsource_port = 3\n").find("c.toml:6"), std::string::npos);
  EXPECT_THROW(chain(1, {TwoPortStage{}}), InputError);
}

}  // namespace
}  // namespace ohmtilt::test
