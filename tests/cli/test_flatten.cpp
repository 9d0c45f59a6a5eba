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
  for (const char* part : {"across the terminals", "lowest |Z| before and after", "Instead,"})
    EXPECT_NE(ran.out.find(part), std::string::npos) << part << "\n" << ran.out;
}

TEST(FlattenCommand, FailsTheLimitThatCannotBeKept) {
  EXPECT_EQ(run({"flatten", demo("five-armature.csv"), "--source", "100", "--limit-db", "0.05",
                 "--branches", "1"})
                .status,
            1);
}

TEST(FlattenCommand, RefusesClumsyUse) {
  const std::string earphone = demo("two-way-armature.csv");
  expect_refused(run({"flatten", earphone, "--source", "-1"}), "largest source");
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
