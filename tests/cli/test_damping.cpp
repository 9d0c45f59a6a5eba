#include <cmath>

#include "tests/cli/program.h"

namespace ohmtilt::test {
namespace {

using Names = std::vector<std::string>;

const Names on_hybrid{
    "damping", demo("dynamic-armature-hybrid.circuit.toml"), "--from", "0.3", "--to", "6"};

Names with(Names args, const Names& more) {
  args.insert(args.end(), more.begin(), more.end());
  return args;
}

TEST(DampingCommand, AnswersInTextThatCanBeQuoted) {
  const Ran ran = run(on_hybrid);
  EXPECT_EQ(ran.status, 0);
  EXPECT_EQ(ran.err, "");
  for (const char* part :
       {"6 ohm instead of 0.3 ohm changes the mode bass", "Q of the mode", "decay to -60 dB, ms",
        "moving coil", "are in the loop whatever the source", "damping factor", "lossy parts"})
    EXPECT_NE(ran.out.find(part), std::string::npos) << part << "\n" << ran.out;
}

TEST(DampingCommand, KeepsItsJsonKeys) {
  const auto json = run(with(on_hybrid, {"--json"})).json();
  EXPECT_EQ(keys(json), (Names{"tool", "version", "command", "earphone", "sources", "modes",
                               "driver", "frequency_hz", "damping_factor", "burst", "step",
                               "largest_source", "model_error_percent", "warnings"}));
  const auto& mode = json["modes"][0];
  EXPECT_EQ(keys(mode), (Names{"name", "at"}));
  EXPECT_EQ(mode["name"], "bass");
  ASSERT_EQ(mode["at"].size(), 4u);
  EXPECT_EQ(keys(mode["at"][0]),
            (Names{"source_ohm", "hz", "q", "decay_20_db_ms", "decay_60_db_ms"}));
  EXPECT_EQ(mode["at"][0]["source_ohm"], 0);
  EXPECT_EQ(mode["at"][1]["source_ohm"], 0.3);
  EXPECT_EQ(mode["at"][2]["source_ohm"], 6);
  EXPECT_TRUE(mode["at"][3]["source_ohm"].is_null());
  EXPECT_EQ(keys(json["driver"][0]), (Names{"source_ohm", "q_electrical", "q_total"}));
  EXPECT_EQ(keys(json["damping_factor"][1]),
            (Names{"source_ohm", "ratio", "ratio_with_coil", "rated"}));
  EXPECT_EQ(json["damping_factor"][1]["ratio"].size(), json["frequency_hz"].size());
  EXPECT_LT(json["model_error_percent"], 0.1);
  EXPECT_TRUE(json["largest_source"].is_null());
}

TEST(DampingCommand, GivesTimeResponses) {
  const auto json = run(with(on_hybrid, {"--json", "--burst", "500", "--cycles", "4"})).json();
  EXPECT_EQ(keys(json["burst"]), (Names{"hz", "cycles", "time_ms", "cases"}));
  EXPECT_EQ(json["burst"]["hz"], 500);
  EXPECT_EQ(json["burst"]["cycles"], 4);
  ASSERT_EQ(json["burst"]["cases"].size(), 2u);
  const auto& first = json["burst"]["cases"][0];
  EXPECT_EQ(keys(first), (Names{"label", "terminal_volt", "envelope_volt", "motional"}));
  EXPECT_EQ(first["terminal_volt"].size(), json["burst"]["time_ms"].size());
  ASSERT_EQ(first["motional"].size(), 2u);
  EXPECT_EQ(keys(first["motional"][0]), (Names{"driver", "volt", "envelope_volt"}));
  EXPECT_EQ(first["motional"][0]["driver"], "bass");
  EXPECT_EQ(keys(json["step"]), (Names{"time_ms", "cases"}));
  EXPECT_EQ(json["step"]["cases"][0]["terminal_volt"].size(), json["step"]["time_ms"].size());
}

TEST(DampingCommand, ListsZeroOhmOnce) {
  const auto json =
      run({"damping", demo("single-dynamic.circuit.toml"), "--to", "6", "--json"}).json();
  EXPECT_EQ(json["modes"][0]["at"].size(), 3u);
  EXPECT_TRUE(json["damping_factor"][0]["rated"].is_null());
  EXPECT_TRUE(json["damping_factor"][0]["ratio"][0].is_null());
}

TEST(DampingCommand, CurvesHaveNoNamesAndStateTheirError) {
  const auto json = run({"damping", demo("single-dynamic.csv"), "--to", "6", "--json"}).json();
  ASSERT_EQ(json["modes"].size(), 1u);
  EXPECT_TRUE(json["modes"][0]["name"].is_null());
  EXPECT_GT(json["model_error_percent"], 0);
  EXPECT_EQ(json["driver"].size(), 2u);
  EXPECT_EQ(json["burst"]["cases"][0]["motional"].size(), 0u);
}

TEST(DampingCommand, LimitGivesStatusOneAndTheLargestSource) {
  const Ran over = run(with(on_hybrid, {"--json", "--limit-q-percent", "5"}));
  EXPECT_EQ(over.status, 1);
  const auto largest = over.json()["largest_source"];
  EXPECT_EQ(keys(largest), (Names{"limit_q_percent", "ohm"}));
  EXPECT_GT(largest["ohm"], 0.3);
  EXPECT_LT(largest["ohm"], 6);
  EXPECT_EQ(run(with(on_hybrid, {"--limit-q-percent", "50"})).status, 0);
  const Ran alone = run({"damping", demo("single-dynamic.csv"), "--limit-q-percent", "5"});
  EXPECT_EQ(alone.status, 0);
  EXPECT_NE(alone.out.find("keeps each Q within 5 %"), std::string::npos) << alone.out;
}

TEST(DampingCommand, TakesChainsAndWritesSamples) {
  const Scratch scratch;
  const auto csv = (scratch / "burst.csv").string();
  const Ran ran = run({"damping", demo("single-dynamic.circuit.toml"), "--to",
                       demo("attenuator-engaged.chain.toml"), "--csv", csv});
  EXPECT_EQ(ran.status, 0);
  EXPECT_EQ(contents(csv).rfind("time_ms,terminal_volt_1,envelope_volt_1,step_volt_1,"
                                "motional_volt_driver_1_1,motional_envelope_volt_driver_1_1,",
                                0),
            0u)
      << contents(csv).substr(0, 200);
}

TEST(DampingCommand, RefusesWhatMakesNoSense) {
  const auto planar = demo("planar.csv");
  expect_refused(run({"damping", planar}), "no source to compare with");
  expect_refused(run({"damping", planar, "--to", "6", "--burst", "-5"}), "-5 Hz");
  expect_refused(run({"damping", planar, "--to", "6", "--cycles", "0"}), "0 cycles");
  expect_refused(run({"damping", planar, "--to", "6", "--limit-q-percent", "0"}), "no room");
  expect_refused(run({"damping", planar, "--to", "-6"}), "ohm");
  expect_refused(run({"damping", "nothing.csv", "--to", "6"}), "nothing.csv");
}

TEST(DampingCommand, AnEarphoneWithoutResonanceSaysSo) {
  const Ran ran = run({"damping", demo("planar.circuit.toml"), "--to", "6", "--json"});
  EXPECT_EQ(ran.status, 0);
  EXPECT_EQ(ran.json()["modes"].size(), 0u);
  EXPECT_TRUE(ran.json()["model_error_percent"].is_null());
  EXPECT_EQ(ran.json()["warnings"].size(), 1u);
  const Scratch scratch;
  const auto plot = scratch / "d.svg";
  const Ran text = run({"damping", demo("planar.circuit.toml"), "--to", "6", "--plot", plot});
  EXPECT_NE(text.out.find("No resonance lies in the band"), std::string::npos) << text.out;
  EXPECT_NE(contents(plot).find("No resonance in the band: nothing to damp"), std::string::npos);
}

TEST(DampingCommand, SaysWhatItsFigureLeavesOut) {
  const Scratch scratch;
  const auto plot = scratch / "d.svg";
  const Ran ran = run({"damping", demo("five-armature.earphone.toml"), "--from", "0.3", "--to", "6",
                       "--plot", plot});
  EXPECT_NE(ran.out.find("Each row is one mode alone"), std::string::npos) << ran.out;
  const std::string svg = contents(plot);
  EXPECT_NE(svg.find("drawn are the 6 of 7 modes"), std::string::npos);
  EXPECT_NE(svg.find("5.31 kHz, at the terminals, dB"), std::string::npos);
  EXPECT_NE(svg.find(">5.31 kHz<"), std::string::npos) << "the mode that the title speaks of";
}

TEST(DampingCommand, TakesAListOfSources) {
  const auto lists = run({"damping", demo("single-dynamic.csv"), "--to", "6,10", "--json"}).json();
  const auto one =
      run({"damping", demo("single-dynamic.csv"), "--to", "6", "--to", "10", "--json"});
  EXPECT_EQ(lists, one.json());
}

}  // namespace
}  // namespace ohmtilt::test
