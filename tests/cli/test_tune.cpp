#include "tests/cli/program.h"

namespace ohmtilt::test {
namespace {

const std::vector<std::string> on_network{"tune",
                                          demo("two-way-armature.csv"),
                                          demo("bench/network-across.chain.toml"),
                                          "--points",
                                          "96",
                                          "--samples",
                                          "50"};

std::vector<std::string> tuned_with(const std::vector<std::string>& more) {
  std::vector<std::string> args = on_network;
  args.insert(args.end(), more.begin(), more.end());
  return args;
}

TEST(TuneCommand, KeepsItsJsonKeys) {
  const Ran ran = run(tuned_with({"--move", "R1=1-100:E6", "--move", "L1=10uH-10mH:E6", "--limit",
                                  "lowest=9", "--front", "loss", "--json"}));
  const auto json = ran.json();
  EXPECT_EQ(ran.status, 0) << ran.err;
  EXPECT_EQ(keys(json), (std::vector<std::string>{"tool",
                                                  "version",
                                                  "command",
                                                  "earphone",
                                                  "source",
                                                  "from",
                                                  "minimise",
                                                  "limits",
                                                  "within_limits",
                                                  "complete",
                                                  "combinations",
                                                  "moves",
                                                  "before",
                                                  "after",
                                                  "front",
                                                  "frequency_hz",
                                                  "deviation_before_db",
                                                  "deviation_after_db",
                                                  "input_before_ohm",
                                                  "input_after_ohm",
                                                  "target_ohm",
                                                  "warnings"}));
  EXPECT_EQ(keys(json["moves"][0]),
            (std::vector<std::string>{"name", "parts", "key", "before", "value", "winding_ohm",
                                      "low", "high", "choices"}));
  EXPECT_EQ(keys(json["after"]), (std::vector<std::string>{"span_db", "target_db", "lowest_ohm",
                                                           "loss_db", "current_ampere_per_volt",
                                                           "noise_volt", "tolerance_p95_db"}));
  EXPECT_EQ(keys(json["front"][0]), (std::vector<std::string>{"values", "span_db", "loss_db"}));
  EXPECT_TRUE(json["complete"].get<bool>());
  EXPECT_GE(json["after"]["lowest_ohm"].get<double>(), 9);
}

TEST(TuneCommand, WritesAChainThatDoesWhatItSays) {
  const Scratch scratch;
  const std::string chain = (scratch / "tuned.chain.toml").string();
  const auto json =
      run(tuned_with({"--move", "R1=1-100", "--move", "L1=10uH-10mH", "--write", chain, "--json"}))
          .json();
  const Ran deviation =
      run({"deviation", demo("two-way-armature.csv"), "--to", chain, "--points", "96", "--json"});
  ASSERT_EQ(deviation.status, 0) << deviation.err;
  EXPECT_NEAR(deviation.json()["cases"][0]["span_db"].get<double>(),
              json["after"]["span_db"].get<double>(), 1e-9);
  const std::string circuit = (scratch / "tuned.circuit.toml").string();
  EXPECT_EQ(run(tuned_with({"--move", "R1=1-100:E6", "--write", circuit})).status, 0);
  EXPECT_EQ(run({"solve", circuit}).status, 0);
}

TEST(TuneCommand, TunesACrossoverTowardsATarget) {
  const Ran ran = run({"tune", demo("dynamic-armature-hybrid.circuit.toml"), "0.3", "--move",
                       "C-treble=1uF-10uF:E24", "--move", "R-treble=1-10:E24", "--minimise",
                       "target", "--target", demo("dynamic-armature-hybrid.csv"), "--points", "64",
                       "--samples", "20", "--json"});
  const auto json = ran.json();
  ASSERT_EQ(ran.status, 0) << ran.err;
  EXPECT_EQ(json["moves"][0]["value"].get<double>(), 2.2e-6);
  EXPECT_EQ(json["moves"][1]["value"].get<double>(), 3.3);
}

TEST(TuneCommand, TakesWhatThereIs) {
  const Scratch scratch;
  const std::string stock = scratch.write("stock.txt", "10 22 47\n100uH/0.9 1mH/2.5\n").string();
  const auto json =
      run(tuned_with({"--move", "R1=1-100", "--move", "L1=10uH-10mH", "--stock", stock, "--json"}))
          .json();
  EXPECT_EQ(json["combinations"].get<double>(), 6);
  EXPECT_TRUE(json["moves"][1]["winding_ohm"].is_number());
}

TEST(TuneCommand, EndsWithOneWhereNoValuesKeepTheLimits) {
  const Ran ran = run(tuned_with({"--move", "R1=1-100:E6", "--limit", "span=0.1"}));
  EXPECT_EQ(ran.status, 1);
  EXPECT_NE(ran.out.find("No values keep the limits"), std::string::npos) << ran.out;
}

TEST(TuneCommand, RefusesWhatItCannotUnderstand) {
  const auto refused = [](const std::vector<std::string>& more, const std::string& text) {
    expect_refused(run(tuned_with(more)), text);
  };
  refused({"--move", "R9=1-100"}, "\"R9\" is no value that may move");
  refused({"--move", "R1=100-1"}, "the lower end first");
  refused({"--move", "R1"}, "no range");
  refused({"--move", "R1=1-4.7uF"}, "is no value of `ohm`");
  refused({"--move", "R1=1-100:E7"}, "E7");
  refused({"--move", "R1=1.01-1.02"}, "no value of E24");
  refused({"--move", "R1,L1=1-100"}, "move them apart");
  refused({"--move", "R1=1-100", "--move", "R1=1-10"}, "moves twice");
  refused({"--move", "R1=1-100", "--minimise", "weight"}, "--minimise \"weight\"");
  refused({"--move", "R1=1-100", "--limit", "loss"}, "has no value");
  refused({"--move", "R1=1-100", "--limit", "span=1-2"}, "both sides");
  refused({"--move", "R1=1-100", "--minimise", "target"}, "no target");
  refused({"--move", "R1=1-100", "--front", "span"}, "trades one aim");
  refused({"--move", "R1=1-100", "--write", "x.txt"}, "--write x.txt");
}

}  // namespace
}  // namespace ohmtilt::test
