// The headroom command: keys, files, what it refuses.
#include <cmath>

#include "tests/cli/program.h"
#include "tools/ohmtilt/commands/headroom.h"

namespace ohmtilt::test {
namespace {

TEST(HeadroomCommand, HasTheDocumentedKeys) {
  const auto json = run({"headroom", engaged, pair, "--json"}).json();
  EXPECT_EQ(keys(json), (std::vector<std::string>{"tool", "version", "command", "limits", "target",
                                                  "gain", "gain_without_pad", "power",
                                                  "niosh_minutes_a_day", "warnings"}));
  EXPECT_EQ(keys(json["limits"]),
            (std::vector<std::string>{"frequency_hz", "spl_db", "limited_by"}));
  EXPECT_EQ(json["limits"]["frequency_hz"].size(), 480u);
  EXPECT_EQ(json["limits"]["spl_db"].size(), 480u);
  EXPECT_EQ(json["limits"]["limited_by"].size(), 480u);
  EXPECT_EQ(keys(json["target"]), (std::vector<std::string>{"spl_db", "level_dba", "volt", "ampere",
                                                            "milliwatt", "headroom_db"}));
  ASSERT_EQ(json["gain"].size(), 3u);
  EXPECT_EQ(keys(json["gain"][0]),
            (std::vector<std::string>{"gain_db", "travel_percent", "clip_travel_percent_unloaded",
                                      "clip_travel_percent_loaded", "imbalance_db"}));
  EXPECT_EQ(keys(json["power"]), (std::vector<std::string>{"open_volt", "output_ohm", "max_ampere",
                                                           "points", "contradiction"}));
  EXPECT_EQ(keys(json["power"]["points"][0]),
            (std::vector<std::string>{"load_ohm", "watt", "duration_ms", "limited_by",
                                      "predicted_watt", "comparable"}));
  EXPECT_EQ(json["power"]["points"][0]["duration_ms"], "continuous");
  EXPECT_TRUE(json["power"]["contradiction"].is_null());
  EXPECT_EQ(json["power"]["points"][0]["limited_by"], "current");
  EXPECT_EQ(json["power"]["points"][2]["comparable"], false);
  EXPECT_NEAR(json["niosh_minutes_a_day"].get<double>(),
              480 / std::exp2((json["target"]["level_dba"].get<double>() - 85) / 3), 1e-9);
  EXPECT_TRUE(run({"headroom", bare, pair, "--json"}).json()["gain_without_pad"].is_null());
}

TEST(HeadroomCommand, ComparesTwoChainsAtOnePosition) {
  const auto json = run({"headroom", engaged, pair, "--against", bare, "--json"}).json();
  EXPECT_EQ(keys(json["against"]), (std::vector<std::string>{"headroom_db", "travel_percent",
                                                             "spl_db", "against_spl_db"}));
  EXPECT_NEAR(json["against"]["spl_db"].get<double>(), 85, 1e-9);
  EXPECT_GT(json["against"]["against_spl_db"].get<double>(), 94);
  const Ran ran = run({"headroom", engaged, pair, "--against", bare});
  EXPECT_NE(ran.out.find("At the same"), std::string::npos) << ran.out;
  EXPECT_NE(ran.out.find("Without the pad"), std::string::npos) << ran.out;
}

TEST(HeadroomCommand, MovesWithTargetAndCrest) {
  const auto at = [&](const char* target, const char* crest) {
    return run({"headroom", bare, pair, "--target", target, "--crest", crest, "--json"})
        .json()["target"]["headroom_db"]
        .get<double>();
  };
  EXPECT_NEAR(at("85", "20") - at("95", "20"), 10, 1e-9);
  EXPECT_NEAR(at("85", "20") - at("85", "14"), -6, 1e-9);
}

// 88.64 dB(A) and 207 minutes by NumPy: tests/outside/reference_headroom.py --print.
TEST(HeadroomCommand, CautionsAboveEightyFiveDecibelsA) {
  const Ran quiet = run({"headroom", engaged, pair, "--target", "86"});  // 84.64 dB(A)
  EXPECT_EQ(quiet.err.find("NIOSH"), std::string::npos) << quiet.err;
  const Ran loud = run({"headroom", engaged, pair, "--target", "90"});
  EXPECT_EQ(loud.status, 0);
  EXPECT_NE(loud.err.find(
                "ohmtilt: caution: at 88.6 dB(A) the NIOSH (1998) limit is about 3.4 hours a day"),
            std::string::npos)
      << loud.err;
  const auto json = run({"headroom", engaged, pair, "--target", "90", "--json"}).json();
  EXPECT_NEAR(json["target"]["level_dba"].get<double>(), 88.6387, 2e-3);
  // Of NumPy too: 4 V behind the pad, on 32 ohm.
  EXPECT_NE(loud.out.find("stages: 1.12 V"), std::string::npos) << loud.out;
}

TEST(HeadroomCommand, FillsEveryColumnOfThePowerTable) {
  const cli::HeadroomFound found =
      cli::ask(cli::read_chain_input({engaged, pair, {}}), HeadroomOptions(), headroom);
  const auto rows = cli::power_rows(*found.result.power);
  ASSERT_EQ(rows.size(), 4u);
  for (const auto& row : rows) EXPECT_EQ(row.size(), rows[0].size());
  EXPECT_EQ(rows[0].back(), "distortion");
  EXPECT_EQ(rows[1].back(), "1 %");
  EXPECT_EQ(rows[3].back(), "0.1 %");
}

TEST(HeadroomCommand, WritesTheNumbersBehindItsFigure) {
  const Scratch scratch;
  EXPECT_EQ(run({"headroom", bare, pair, "--csv", scratch / "h.csv", "--points", "5"}).status, 0);
  const auto rows = csv_rows(scratch / "h.csv");
  ASSERT_EQ(rows.size(), 5u);
  EXPECT_EQ(rows[0].count("frequency_hz"), 1u);
  EXPECT_EQ(rows[0].count("spl_db"), 1u);
}

TEST(HeadroomCommand, SaysWhichKeyIsMissingAndWhy) {
  expect_refused(run({"headroom", "6", pair}), "give a chain file with open_volt");
  expect_refused(run({"headroom", bare, demo("planar.csv")}), "such as planar.earphone.toml");
  expect_refused(run({"headroom", bare, pair, "--target", "loud"}), "--target");
  expect_refused(run({"headroom", bare, pair, "--crest", "-3"}), "crest");
  expect_refused(run({"headroom", bare, bare}), "this is a chain, not an earphone");
}

TEST(HeadroomCommand, OfAControlInStepsHasNoTravel) {
  const Scratch scratch;
  const auto file = scratch.write("x.chain.toml",
                                  "[source]\noutput_ohm = 0.3\nopen_volt = 2\ninput_volt = 2\n"
                                  "[source.volume]\nlaw = \"decibel\"\nstep_db = 0.5\n");
  const Ran ran = run({"headroom", file, pair});
  EXPECT_EQ(ran.out.find("not reached"), std::string::npos) << ran.out;
  EXPECT_NE(ran.out.find("A control in steps has no travel"), std::string::npos) << ran.out;
}

TEST(HeadroomCommand, ReadsConditionsOfPowerPoints) {
  const Scratch scratch;
  const auto file = scratch.write(
      "x.chain.toml",
      "[source]\noutput_ohm = 0.3\n[[source.power]]\nload_ohm = 32\nwatt = 0.5\n"
      "duration_ms = \"continuous\"\n"
      "[[source.power]]\nload_ohm = 32\nwatt = 1.0\nduration_ms = 20\nbalanced = true\n"
      "supply = \"12 V\"\n");
  const auto json = run({"headroom", file, pair, "--json"}).json();
  EXPECT_NEAR(json["power"]["open_volt"].get<double>(), 4 * 32.3 / 32, 1e-12);
  EXPECT_EQ(json["power"]["points"][1]["comparable"], false);
  EXPECT_TRUE(json["power"]["max_ampere"].is_null());
  EXPECT_EQ(json["gain"].size(), 0u);
}

TEST(HeadroomCommand, SaysThatTheEarphonesOwnLimitIsUnknown) {
  const Scratch scratch;
  const auto curve = scratch.write("e.csv", contents(demo("two-way-armature.csv")));
  const auto file = scratch.write(
      "e.earphone.toml", "title = \"E\"\nimpedance = \"e.csv\"\nsensitivity_db_per_volt = 120\n");
  const Ran ran = run({"headroom", bare, file});
  EXPECT_NE(ran.out.find("the earphone's power rating"), std::string::npos) << ran.out;
  EXPECT_NE(ran.err.find("add `max_watt` to " + file.string()), std::string::npos) << ran.err;
  EXPECT_EQ(run({"headroom", bare, pair}).err.find("max_watt"), std::string::npos);
}

TEST(HeadroomCommand, NamesTheLevelThatIsReached) {
  const auto json = run({"headroom", bare, pair, "--target", "110", "--json"}).json();
  const double short_db = json["target"]["headroom_db"].get<double>();
  ASSERT_LT(short_db, 0);
  char sentence[40];
  std::snprintf(sentence, sizeof sentence, "which reaches %.1f dB,",
                std::floor((110 + short_db) * 10) / 10);
  const Ran ran = run({"headroom", bare, pair, "--target", "110"});
  EXPECT_NE(ran.out.find(sentence), std::string::npos) << ran.out;
}

TEST(HeadroomCommand, CallsNeitherStrongerWhereTheEarphoneEndsBoth) {
  const Scratch scratch;
  std::string text = contents(demo("two-way-armature.earphone.toml"));
  text.replace(text.find("max_watt = 0.02"), 15, "max_watt = 1e-5");
  scratch.write("two-way-armature.csv", contents(demo("two-way-armature.csv")));
  scratch.write("two-way-armature.response.csv", contents(demo("two-way-armature.response.csv")));
  const auto weak = scratch.write("weak.earphone.toml", text);
  const Ran ran = run({"headroom", engaged, weak, "--against", bare});
  EXPECT_NE(ran.out.find("Neither is stronger"), std::string::npos) << ran.out;
  const Ran planar = run({"headroom", engaged, demo("planar.earphone.toml"), "--against", bare});
  EXPECT_NE(planar.out.find("Stronger, with"), std::string::npos) << planar.out;
  // Only the other chain reaches what this earphone bears.
  EXPECT_NE(planar.err.find("with Attenuator off, the amplifier can give"), std::string::npos)
      << planar.err;
}

TEST(HeadroomCommand, ChecksALimitOnlyWhereItIsAsked) {
  const double spare_db =
      run({"headroom", bare, pair, "--json"}).json()["target"]["headroom_db"].get<double>();
  const auto status = [&](double limit_db) {
    return run({"headroom", bare, pair, "--limit-db", std::to_string(limit_db)}).status;
  };
  EXPECT_EQ(status(spare_db - 0.1), 0);
  EXPECT_EQ(status(spare_db + 0.1), 1);
  const Ran beyond = run({"headroom", bare, pair, "--limit-db", "40"});
  EXPECT_NE(beyond.out.find("It exceeds the limit: "), std::string::npos) << beyond.out;
  EXPECT_NE(beyond.out.find(" dB of headroom, at least 40 dB asked."), std::string::npos);
  for (const char* command : {"headroom", "hiss", "crosstalk"})
    for (const char* limit : {"nan", "inf", "x"})
      expect_refused(run({command, bare, pair, "--limit-db", limit}), "--limit-db");
}

}  // namespace
}  // namespace ohmtilt::test
