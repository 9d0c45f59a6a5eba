// The deviation command on chains, circuits and earphone files.
#include <cmath>

#include "tests/cli/program.h"

namespace ohmtilt::test {
namespace {

nlohmann::ordered_json deviation(const std::string& earphone, const std::string& from,
                                 const std::string& to, std::vector<std::string> more = {}) {
  std::vector<std::string> args{"deviation", demo(earphone), "--from", from, "--to", to, "--json"};
  args.insert(args.end(), more.begin(), more.end());
  return run(args).json();
}

TEST(DeviationOfChains, HasTheDocumentedKeys) {
  const auto json = deviation("two-way-armature.earphone.toml", bare, engaged);
  const auto& chain = json["cases"][0]["chain"];
  EXPECT_EQ(keys(chain), (std::vector<std::string>{"loss_db", "rated_loss_db", "output_real_ohm",
                                                   "output_imag_ohm"}));
  EXPECT_EQ(chain["output_real_ohm"].size(), 480u);
  EXPECT_EQ(chain["output_imag_ohm"].size(), 480u);
  EXPECT_EQ(json["warnings"].size(), 0u);
  EXPECT_TRUE(deviation("two-way-armature.csv", "0", "6")["cases"][0]["chain"].is_null());
}

TEST(DeviationOfChains, IsThatOfTheirOutputImpedanceAndOpenLoss) {
  const auto chain = deviation("two-way-armature.csv", "0.3", engaged);
  const auto number_only = deviation("two-way-armature.csv", "0.3", "6.077737226277372");
  const auto& a = chain["cases"][0];
  const auto& b = number_only["cases"][0];
  EXPECT_NEAR(number(a["output_ohm"]), 166.53 / 27.4, 1e-12);
  EXPECT_NEAR(number(a["span_db"]), number(b["span_db"]), 1e-11);
  EXPECT_NEAR(number(a["level_change_db"]) - number(b["level_change_db"]),
              20 * std::log10(9.1 / 27.4), 1e-11);
  // By hand, into the rated 16 ohm: 9.1/27.4 open, then 16/(16 + 166.53/27.4).
  const auto rated = deviation("two-way-armature.earphone.toml", "0.3", engaged);
  EXPECT_NEAR(number(rated["cases"][0]["chain"]["rated_loss_db"]),
              20 * std::log10(9.1 / 27.4 * 16 / (16 + 166.53 / 27.4)), 1e-11);
  EXPECT_TRUE(a["chain"]["rated_loss_db"].is_null());
  // The loss into the earphone is the level change from a source without loss.
  const auto ideal = deviation("two-way-armature.csv", "0", engaged);
  EXPECT_NEAR(number(ideal["cases"][0]["chain"]["loss_db"]),
              number(ideal["cases"][0]["level_change_db"]), 1e-11);
}

TEST(DeviationOfChains, IsTheSameFromCircuitCurveAndEarphoneFile) {
  for (const char* file : {"two-way-armature.circuit.toml", "two-way-armature.earphone.toml"}) {
    const auto json = deviation(file, bare, engaged);
    const auto curve = deviation("two-way-armature.csv", bare, engaged);
    EXPECT_NEAR(number(json["cases"][0]["span_db"]), number(curve["cases"][0]["span_db"]), 1e-6);
    EXPECT_EQ(json["earphone"]["title"], curve["earphone"]["title"]);
  }
  const auto circuit = deviation("two-way-armature.circuit.toml", "0", "6", {"--points", "100"});
  EXPECT_EQ(circuit["earphone"]["phase"], "computed");
  EXPECT_EQ(circuit["earphone"]["points"], 100);
}

TEST(DeviationOfEarphoneFiles, BringsTheResponseToBothSources) {
  const Scratch scratch;
  scratch.write("z.csv", "frequency_hz,magnitude_ohm,phase_deg\n100,8,0\n1000,16,0\n10000,32,0\n");
  scratch.write("r.csv", "frequency_hz,magnitude_db\n100,90\n1000,94\n10000,80\n");
  const auto file = scratch.write("x.earphone.toml",
                                  "impedance = \"z.csv\"\nresponse = \"r.csv\"\n"
                                  "response_source_ohm = 4\n");
  const auto json = run({"deviation", file, "--from", "8", "--to", "0", "--json", "--band",
                         "100-10000", "--points", "3"})
                        .json();
  // By hand: the divider Z/(Z+R) in dB, re that at 1 kHz where the level stays.
  const auto divider = [](double z, double r) { return 20 * std::log10(z / (z + r)); };
  const auto moved = [&](double z, double r) {
    return divider(z, r) - divider(z, 4) - divider(16, r) + divider(16, 4);
  };
  const auto& before = json["response_before_db"];
  const auto& after = json["cases"][0]["response_db"];
  EXPECT_NEAR(number(before[0]), 90 + moved(8, 8), 1e-10);
  EXPECT_NEAR(number(before[1]), 94, 1e-10);
  EXPECT_NEAR(number(before[2]), 80 + moved(32, 8), 1e-10);
  EXPECT_NEAR(number(after[0]), 90 + moved(8, 0), 1e-10);
  EXPECT_NEAR(number(after[2]), 80 + moved(32, 0), 1e-10);
  // A response on the command line is taken as it is, with the first source.
  const auto given = run({"deviation", file, "--from", "8", "--to", "0", "--json", "--band",
                          "100-10000", "--points", "3", "--response", scratch / "r.csv"})
                         .json();
  EXPECT_EQ(number(given["response_before_db"][0]), 90);
}

TEST(DeviationOfChains, SaysTheLossInWords) {
  const Ran ran =
      run({"deviation", demo("two-way-armature.earphone.toml"), "--from", bare, "--to", engaged});
  EXPECT_EQ(ran.status, 0);
  for (const char* part :
       {"Attenuator on instead of", "output impedance of the chain", "6.08 ohm",
        "insertion gain (from the unloaded amplifier)", "insertion gain into the rated impedance"})
    EXPECT_NE(ran.out.find(part), std::string::npos) << part << "\n" << ran.out;
}

TEST(DeviationOfChains, WithACouplingCapacitorTakesTheBass) {
  const Scratch scratch;
  const auto file =
      scratch.write("c.chain.toml", "[source]\noutput_ohm = 0\noutput_farad = 220e-6\n");
  const auto json = run({"deviation", demo("planar.csv"), "--to", file, "--json"}).json();
  EXPECT_LT(number(json["cases"][0]["fall"]["db"]), -6);
  EXPECT_EQ(number(json["cases"][0]["fall"]["hz"]), 20);
  EXPECT_EQ(json["cases"][0]["label"], "c");
}

TEST(DeviationOfChains, RefusesWhatIsNotAnEarphone) {
  expect_refused(run({"deviation", engaged, "--to", "6"}), "this is a chain, not an earphone");
  expect_refused(run({"deviation", demo("planar.csv"), "--to", demo("planar.circuit.toml")}),
                 "this is a circuit, not a chain");
  const Scratch scratch;
  const auto file = scratch.write("x.chain.toml", "[source]\noutput_ohm = 1\nopen_vol = 4\n");
  expect_refused(run({"deviation", demo("planar.csv"), "--to", file}),
                 "x.chain.toml:3:1: source: unknown key `open_vol`; did you mean `open_volt`?");
}

}  // namespace
}  // namespace ohmtilt::test
