#include "tests/cli/program.h"

namespace ohmtilt::test {
namespace {

const std::vector<std::string> on_demo{
    "flatten", demo("two-way-armature.csv"), "--source", "10", "--limit-db", "2"};

std::vector<std::string> with(std::vector<std::string> args, const std::vector<std::string>& more) {
  args.insert(args.end(), more.begin(), more.end());
  return args;
}

TEST(FlattenCommand, KeepsItsJsonKeys) {
  const Ran ran = run(with(on_demo, {"--json"}));
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
  EXPECT_EQ(keys(json["branches"][0]), (std::vector<std::string>{"ohm", "henry", "farad"}));
  EXPECT_EQ(ran.status, json["reached"].get<bool>() ? 0 : 1);
  EXPECT_LT(json["span_after_db"].get<double>(), json["span_before_db"].get<double>());
  EXPECT_GE(json["min_ohm_after"].get<double>(), json["least_ohm"].get<double>());
}

TEST(FlattenCommand, WritesACircuitThatAChainTakes) {
  const Scratch scratch;
  const std::string network = (scratch / "network.circuit.toml").string();
  const auto json = run(with(on_demo, {"--write", network, "--json"})).json();
  const auto chain = scratch.write("flat.chain.toml",
                                   "title = \"flat\"\n[source]\noutput_ohm = 10\n[[stage]]\nkind = "
                                   "\"circuit\"\nfile = \"network.circuit.toml\"\n");
  // The network before an earphone behind 10 ohm, against itself behind an ideal source.
  const auto deviation =
      run({"deviation", demo("two-way-armature.csv"), "--to", chain.string(), "--json"});
  ASSERT_EQ(deviation.status, 0) << deviation.err;
  EXPECT_NEAR(deviation.json()["cases"][0]["span_db"].get<double>(),
              json["over_source"]["span_after_db"].back().get<double>(), 0.02);  // another grid
}

TEST(FlattenCommand, SaysWhatItDoesAndWhatAPadWould) {
  const Ran ran = run(on_demo);
  for (const char* part : {"across the terminals", "before", "lowest |Z|", "Instead,"})
    EXPECT_NE(ran.out.find(part), std::string::npos) << part << "\n" << ran.out;
}

TEST(FlattenCommand, SaysHowAChainTakesWhatItWrote) {
  const Scratch scratch;
  const std::string network = (scratch / "network.circuit.toml").string();
  const Ran ran = run(with(on_demo, {"--write", network}));
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
  EXPECT_NE(ran.out.find("is kept by these values on this earphone"), std::string::npos) << ran.out;
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
  run(with(on_demo, {"--plot", figure}));
  EXPECT_NE(contents(figure).find("Span of the deviation"), std::string::npos);
}

}  // namespace
}  // namespace ohmtilt::test
