#include <ohmtilt/text/text.h>

#include "tests/cli/program.h"

namespace ohmtilt::test {
namespace {

const std::vector<std::string> flatten_on_demo{
    "flatten", demo("two-way-armature.csv"), "--source", "10", "--limit-db", "2"};

TEST(FlattenCommand, KeepsItsJsonKeys) {
  const Ran ran = run(with(flatten_on_demo, {"--json"}));
  const auto json = ran.json();
  EXPECT_EQ(keys(json), (std::vector<std::string>{"tool",
                                                  "version",
                                                  "command",
                                                  "earphone",
                                                  "source_ohm",
                                                  "limit_db",
                                                  "reached",
                                                  "branches",
                                                  "span_before_db",
                                                  "span_after_db",
                                                  "min_ohm_before",
                                                  "min_ohm_after",
                                                  "least_ohm",
                                                  "extra_current_ratio",
                                                  "loss_db",
                                                  "tolerance_p95_db",
                                                  "variation_db",
                                                  "parts",
                                                  "pad",
                                                  "over_source",
                                                  "frequency_hz",
                                                  "before_ohm",
                                                  "after_ohm",
                                                  "warnings"}));
  ASSERT_FALSE(json["branches"].empty());
  EXPECT_EQ(keys(json["branches"][0]),
            (std::vector<std::string>{"ohm", "henry", "coil_ohm", "farad"}));
  EXPECT_EQ(ran.status, json["reached"].get<bool>() ? 0 : 1);
  EXPECT_LT(json["span_after_db"].get<double>(), json["span_before_db"].get<double>());
  EXPECT_GE(json["min_ohm_after"].get<double>(), json["least_ohm"].get<double>());
}

TEST(FlattenCommand, WritesACircuitThatAChainTakes) {
  const Scratch scratch;
  const std::string network = (scratch / "network.circuit.toml").string();
  const auto json = run(with(flatten_on_demo, {"--write", network, "--json"})).json();
  const auto chain = scratch.write("flat.chain.toml",
                                   "title = \"flat\"\n[source]\noutput_ohm = 10\n[[stage]]\nkind = "
                                   "\"circuit\"\nfile = \"network.circuit.toml\"\n");
  // The network before an earphone behind 10 ohm, against itself behind an ideal source.
  const auto deviation =
      run({"deviation", demo("two-way-armature.csv"), "--to", chain.string(), "--json"});
  ASSERT_EQ(deviation.status, 0) << deviation.err;
  EXPECT_NEAR(deviation.json()["cases"][0]["span_db"].get<double>(),
              json["over_source"]["span_after_db"].back().get<double>(), 1e-9);
}

// A branch that is a resistor alone ended at a node of its own: the file held another network than
// the figures. Two earphones for which such a branch is found.
TEST(FlattenCommand, WritesABranchThatIsAResistorAlone) {
  const Scratch scratch;
  scratch.write("flat.chain.toml",
                "[source]\noutput_ohm = 10\n[[stage]]\nkind = \"circuit\"\nfile = "
                "\"network.circuit.toml\"\n");
  const std::vector<std::vector<std::string>> cases{
      {demo("dynamic-armature-hybrid.csv"), "--limit-db", "2"},
      {data("dynamic-with-branch.circuit.toml").string(), "--limit-db", "1", "--branches", "3"}};
  for (const auto& one : cases) {
    std::vector<std::string> args{
        "flatten", one[0],    "--source", "10",
        "--json",  "--force", "--write",  (scratch / "network.circuit.toml").string()};
    const Ran ran = run(with(args, {one.begin() + 1, one.end()}));
    ASSERT_EQ(ran.status, 0) << ran.err;
    const auto json = ran.json();
    bool alone = false;
    for (const auto& branch : json["branches"])
      alone |= branch["henry"].is_null() && branch["farad"].is_null();
    EXPECT_TRUE(alone) << json["branches"].dump();
    const Ran deviation =
        run({"deviation", one[0], "--to", (scratch / "flat.chain.toml").string(), "--json"});
    ASSERT_EQ(deviation.status, 0) << deviation.err;
    EXPECT_NEAR(deviation.json()["cases"][0]["span_db"].get<double>(),
                json["over_source"]["span_after_db"].back().get<double>(), 1e-9);
    const auto warnings = deviation.json()["warnings"];
    for (const auto& warning : warnings)
      EXPECT_EQ(warning.get<std::string>().find("part alone"), std::string::npos) << warning;
  }
}

TEST(FlattenCommand, BuildsFromWhatThereIs) {
  const Scratch scratch;
  const auto stock =
      scratch.write("stock.txt",
                    "# drawer\n4R7 6.8, 10; 15 22\n100uH/0.35 220uH 1mH/1.2\n1uF 4.7\xc2\xb5"
                    "F 10uF\n");
  const std::vector<std::string> args{"flatten", demo("two-way-armature.csv"), "--stock",
                                      stock.string(), "--json"};
  const auto json = run(args).json();
  ASSERT_FALSE(json["branches"].empty());
  for (const auto& branch : json["branches"]) {
    if (!branch["ohm"].is_null()) {
      EXPECT_NE(std::string("4.7 6.8 10 15 22").find(number_text(branch["ohm"])),
                std::string::npos);
    }
    if (!branch["henry"].is_null()) {
      const double henry = branch["henry"], ohm = branch["coil_ohm"];
      EXPECT_TRUE((henry == 1e-4 && ohm == 0.35) || (henry == 1e-3 && ohm == 1.2) ||
                  (henry == 2.2e-4 && std::abs(ohm - 0.066) < 1e-12))
          << branch;
    }
  }
  const auto without_coils = run(with(args, {"--no-coils"})).json()["branches"];
  for (const auto& branch : without_coils)
    EXPECT_TRUE(branch["henry"].is_null()) << branch;
  const auto small = run({"flatten", demo("five-armature.csv"), "--largest-henry", "1e-4",
                          "--largest-farad", "1e-6", "--branches", "2", "--json"})
                         .json();
  for (const auto& branch : small["branches"]) {
    EXPECT_TRUE(branch["henry"].is_null() || branch["henry"] <= 1e-4) << branch;
    EXPECT_TRUE(branch["farad"].is_null() || branch["farad"] <= 1e-6) << branch;
  }
  const auto coils = scratch.write("coils.txt", "100uH 1mH");
  expect_refused(
      run({"flatten", demo("two-way-armature.csv"), "--stock", coils.string(), "--no-coils"}),
      "no part to build");
  const auto bad = scratch.write("bad.txt", "10 2.2 uF");
  expect_refused(run({"flatten", demo("two-way-armature.csv"), "--stock", bad.string()}),
                 "bad.txt:1:8: \"uF\"");
  expect_refused(run(with(args, {"--series", "E6"})), "--stock and --series");
  expect_refused(run({"flatten", demo("two-way-armature.csv"), "--largest-henry", "0"}),
                 "largest coil");
}

TEST(FlattenCommand, SaysWhatItDoesAndWhatAPadWould) {
  const Ran ran = run(flatten_on_demo);
  for (const char* part : {"across the terminals", "before", "lowest |Z|", "reaches the same span"})
    EXPECT_NE(ran.out.find(part), std::string::npos) << part << "\n" << ran.out;
}

TEST(FlattenCommand, SaysHowAChainTakesWhatItWrote) {
  const Scratch scratch;
  const std::string network = (scratch / "network.circuit.toml").string();
  const Ran ran = run(with(flatten_on_demo, {"--write", network}));
  const std::string lines = "[[stage]]\nkind = \"circuit\"\nfile = \"network.circuit.toml\"\n";
  ASSERT_NE(ran.out.find(lines), std::string::npos) << ran.out;
  EXPECT_NE(contents(network).find("#   kind = \"circuit\""), std::string::npos);
  const auto chain =
      scratch.write("flat.chain.toml", "title = \"flat\"\n[source]\noutput_ohm = 10\n" +
                                           ran.out.substr(ran.out.find(lines)));
  EXPECT_EQ(run({"deviation", demo("two-way-armature.csv"), "--to", chain.string()}).status, 0);
}

TEST(FlattenCommand, TakesEverySource) {
  const auto with_source = [](const std::string& source) {
    return run({"flatten", demo("two-way-armature.csv"), "--source", source, "--json"});
  };
  EXPECT_EQ(with_source("6R0").json()["source_ohm"], 6);
  EXPECT_NEAR(with_source(demo("attenuator-engaged.chain.toml")).json()["source_ohm"].get<double>(),
              6.08, 0.01);
  const Scratch scratch;
  const auto curve =
      scratch.write("output.csv", "frequency_hz,magnitude_ohm,phase_deg\n10,2,0\n30000,8,5\n");
  const Ran ran = with_source(curve.string());
  EXPECT_GT(ran.json()["source_ohm"].get<double>(), 6);
  EXPECT_NE(ran.json()["warnings"].dump().find("is no resistance"), std::string::npos);
}

TEST(FlattenCommand, SaysWhereTheLimitHoldsForTheseValuesOnly) {
  const Ran ran = run({"flatten", demo("five-armature.csv"), "--source", "3", "--limit-db", "1",
                       "--variation", "40"});
  EXPECT_EQ(ran.status, 0);
  EXPECT_NE(ran.out.find("These values keep the limit of 1.00 dB on this earphone"),
            std::string::npos)
      << ran.out;
}

TEST(FlattenCommand, FailsTheLimitThatCannotBeKept) {
  EXPECT_EQ(run({"flatten", demo("five-armature.csv"), "--source", "100", "--limit-db", "0.05",
                 "--branches", "1"})
                .status,
            1);
}

TEST(FlattenCommand, RefusesClumsyUse) {
  const std::string earphone = demo("two-way-armature.csv");
  expect_refused(run({"flatten", earphone, "--source", "-1"}), "-1");
  expect_refused(run({"flatten", earphone, "--branches", "9"}), "branches");
  expect_refused(run({"flatten", earphone, "--series", "E5"}), "E5");
  expect_refused(run({"flatten", earphone, "--least-ohm", "1000"}), "ask for less");
}

TEST(FlattenCommand, DrawsItsFigure) {
  const Scratch scratch;
  const std::string figure = (scratch / "flat.svg").string();
  run(with(flatten_on_demo, {"--plot", figure}));
  EXPECT_NE(contents(figure).find("Span of the deviation"), std::string::npos);
}

}  // namespace
}  // namespace ohmtilt::test
