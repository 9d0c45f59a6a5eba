#include <cmath>

#include "tests/cli/program.h"

namespace ohmtilt::test {
namespace {

const Names on_hybrid{
    "damping", demo("dynamic-armature-hybrid.circuit.toml"), "--from", "0.3", "--to", "6"};

TEST(DampingCommand, AnswersInTextThatCanBeQuoted) {
  const Ran ran = run(on_hybrid);
  EXPECT_EQ(ran.status, 0);
  EXPECT_EQ(ran.err, "");
  for (const char* part :
       {"6 ohm instead of 0.3 ohm: the resonance of bass at ", " changes most, its Q from ",
        "Q of the resonance", "decay to -60 dB, ms", "moving coil", "limits the damping",
        "damping factor", "with the coil", "from its circuit (overdamped"})
    EXPECT_NE(ran.out.find(part), std::string::npos) << part << "\n" << ran.out;
}

TEST(DampingCommand, KeepsItsJsonKeys) {
  const auto json = run(with(on_hybrid, {"--json"})).json();
  EXPECT_EQ(keys(json), (Names{"tool", "version", "command", "earphone", "sources", "resonances",
                               "driver", "frequency_hz", "damping_factor", "burst", "step",
                               "largest_source", "model_error_percent", "warnings"}));
  const auto& mode = json["resonances"][0];
  EXPECT_EQ(keys(mode), (Names{"name", "hz", "at"}));
  EXPECT_EQ(mode["hz"], mode["at"][1]["hz"]) << "at the first source";
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
  EXPECT_EQ(json["resonances"][0]["at"].size(), 3u);
  EXPECT_TRUE(json["damping_factor"][0]["rated"].is_null());
  EXPECT_TRUE(json["damping_factor"][0]["ratio"][0].is_null());
}

TEST(DampingCommand, CurvesHaveNoNamesAndStateTheirError) {
  const auto json = run({"damping", demo("single-dynamic.csv"), "--to", "6", "--json"}).json();
  ASSERT_EQ(json["resonances"].size(), 1u);
  EXPECT_TRUE(json["resonances"][0]["name"].is_null());
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
  expect_refused(run({"damping", planar, "--to", "6", "--limit-q-percent", "0"}),
                 "0 % is not allowed");
  expect_refused(run({"damping", planar, "--to", "-6"}), "ohm");
  expect_refused(run({"damping", "nothing.csv", "--to", "6"}), "nothing.csv");
}

TEST(DampingCommand, AnEarphoneWithoutResonanceSaysSo) {
  const Ran ran = run({"damping", demo("planar.circuit.toml"), "--to", "6", "--json"});
  EXPECT_EQ(ran.status, 0);
  EXPECT_EQ(ran.json()["resonances"].size(), 0u);
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
  EXPECT_NE(ran.out.find("Each row is one resonance"), std::string::npos) << ran.out;
  const std::string svg = contents(plot);
  EXPECT_NE(svg.find("drawn are the 6 of 7 resonances"), std::string::npos);
  EXPECT_NE(svg.find("5.31 kHz, at the terminals, dB"), std::string::npos);
  EXPECT_NE(svg.find(">5.31 kHz<"), std::string::npos) << "the mode that the title speaks of";
}

TEST(DampingCommand, SourcesOfOneTitleAreNotOneSource) {
  const Scratch scratch;
  scratch.write("a.chain.toml", chain_of("Amplifier", 0.3));
  scratch.write("b.chain.toml", chain_of("Amplifier", 12));
  const Names args{"damping", demo("single-dynamic.circuit.toml"),
                   "--from",  scratch / "a.chain.toml",
                   "--to",    scratch / "b.chain.toml"};
  const std::string text = run(args).out;
  EXPECT_NE(text.find("Amplifier [b.chain.toml] instead of Amplifier [a.chain.toml]: "),
            std::string::npos)
      << text;
  const auto json = run(with(args, {"--json"})).json();
  EXPECT_NE(json["sources"][0]["label"], json["sources"][1]["label"]);
  // The figures of the sentence are those of the two sources as numbers.
  const auto numbers =
      run({"damping", demo("single-dynamic.circuit.toml"), "--from", "0.3", "--to", "12"}).out;
  const auto sentence = [](const std::string& out) {
    const auto start = out.find("the resonance of");
    return out.substr(start, out.find('\n', start) - start);
  };
  EXPECT_EQ(sentence(text), sentence(numbers));
}

TEST(DampingCommand, TitlesThatBeginAlikeKeepDifferentColumns) {
  const Scratch scratch;
  scratch.write("a.chain.toml", chain_of("Pocket amplifier P1, attenuator off", 0.3));
  scratch.write("b.chain.toml", chain_of("Pocket amplifier P1, attenuator on", 12));
  const Ran ran = run({"damping", demo("single-dynamic.circuit.toml"), "--from",
                       scratch / "a.chain.toml", "--to", scratch / "b.chain.toml"});
  EXPECT_NE(ran.out.find("0 ohm  \u2026off   \u2026on  open\n"), std::string::npos) << ran.out;
}

TEST(DampingCommand, PrefersTheLabelsOfFilesInItsTables) {
  const Scratch scratch;
  scratch.write("a.chain.toml", "label = \"off\"\n" + chain_of("Pocket amplifier", 0.3));
  scratch.write("b.chain.toml", "label = \"on\"\n" + chain_of("Pocket amplifier with its pad", 12));
  const Ran ran = run({"damping", demo("single-dynamic.circuit.toml"), "--from",
                       scratch / "a.chain.toml", "--to", scratch / "b.chain.toml"});
  EXPECT_NE(ran.out.find("0 ohm   off    on  open\n"), std::string::npos) << ran.out;
  EXPECT_NE(ran.out.find("Pocket amplifier with its pad instead of Pocket amplifier: "),
            std::string::npos)
      << ran.out;
  const Ran survey =
      run({"survey", demo("single-dynamic.earphone.toml"), "--chains", scratch / "b.chain.toml"});
  EXPECT_NE(survey.out.find("  on: Pocket amplifier with its pad"), std::string::npos)
      << survey.out;
}

TEST(DampingCommand, SpeaksOfTheCoilOnlyWhereAllDirectCurrentFlowsThroughOne) {
  for (const char* name : {"five-armature.circuit.toml", "piezo.circuit.toml"}) {
    if (!std::filesystem::exists(demo(name))) continue;
    const Ran ran = run({"damping", demo(name), "--to", "6"});
    EXPECT_EQ(ran.out.find("limits the damping"), std::string::npos) << ran.out;
    EXPECT_EQ(ran.out.find("with the coil"), std::string::npos) << ran.out;
  }
  const Scratch scratch;
  const auto driver = [](const char* more) {
    return std::string(
               "title = \"t\"\nreference = \"0\"\n[ports]\nterminals = [\"in\", \"0\"]\n"
               "[[part]]\nname = \"d\"\nkind = \"dynamic-driver\"\nnodes = [\"a\", \"0\"]\n"
               "dc_ohm = 16\nresonance_hz = 200\nq_mechanical = 3\nq_electrical = 2\n"
               "[[part]]\nname = \"x\"\nnodes = [\"in\", \"a\"]\n") +
           more;
  };
  scratch.write("direct.circuit.toml", driver("kind = \"resistor\"\nohm = 1\n"));
  scratch.write("behind.circuit.toml",
                driver("kind = \"capacitor\"\nfarad = 1e-4\n[[part]]\nname = \"p\"\n"
                       "kind = \"resistor\"\nnodes = [\"in\", \"0\"]\nohm = 1e4\n"));
  EXPECT_NE(run({"damping", scratch / "direct.circuit.toml", "--to", "6"})
                .out.find("The earphone's own 17 ohm limits the damping"),
            std::string::npos);
  EXPECT_EQ(run({"damping", scratch / "behind.circuit.toml", "--to", "6"}).out.find("limits the"),
            std::string::npos);
}

TEST(DampingCommand, NamesAResonanceByOneFrequency) {
  // At the first source, in the sentence, the tables, the burst and the figure.
  const Scratch scratch;
  const auto plot = scratch / "d.svg";
  const Names args{"damping", demo("five-armature.circuit.toml"), "--from", "10", "--to", "0.3"};
  const std::string text = run(with(args, {"--plot", plot})).out;
  const auto json = run(with(args, {"--json"})).json();
  const auto start = text.find(" kHz changes most");
  ASSERT_NE(start, std::string::npos) << text;
  const std::string hz = text.substr(text.rfind(' ', start - 1) + 1, 4) + " kHz";
  EXPECT_NE(text.find(hz + " "), text.rfind(hz + " ")) << hz << "\n" << text;
  EXPECT_NE(contents(plot).find("at " + hz), std::string::npos) << hz;
  for (const auto& one : json["resonances"])
    if (!one["at"][1]["hz"].is_null()) {
      EXPECT_EQ(one["hz"], one["at"][1]["hz"]);
    }
}

TEST(DampingCommand, TakesAListOfSources) {
  const auto lists = run({"damping", demo("single-dynamic.csv"), "--to", "6,10", "--json"}).json();
  const auto one =
      run({"damping", demo("single-dynamic.csv"), "--to", "6", "--to", "10", "--json"});
  EXPECT_EQ(lists, one.json());
}

}  // namespace
}  // namespace ohmtilt::test
