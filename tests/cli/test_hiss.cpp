// The hiss command: keys, options, what it refuses.
#include <algorithm>
#include <cmath>

#include "tests/cli/program.h"

namespace ohmtilt::test {
namespace {

const std::string sensitive = demo("five-armature.earphone.toml");

double level(std::vector<std::string> more) {
  std::vector<std::string> args{"hiss", bare, sensitive, "--json"};
  args.insert(args.end(), more.begin(), more.end());
  return run(args).json()["level_dba"].get<double>();
}

TEST(HissCommand, HasTheDocumentedKeys) {
  const auto json = run({"hiss", engaged, sensitive, "--against", bare, "--json"}).json();
  EXPECT_EQ(keys(json),
            (std::vector<std::string>{"tool", "version", "command", "level_dba", "band_hz",
                                      "band_db", "threshold_db", "audible_bands", "parts", "pad",
                                      "against", "warnings"}));
  EXPECT_EQ(json["band_hz"].size(), 31u);
  EXPECT_EQ(json["band_db"].size(), 31u);
  EXPECT_EQ(json["threshold_db"].size(), 31u);
  EXPECT_TRUE(json["threshold_db"][0].is_null());
  ASSERT_EQ(json["parts"].size(), 2u);
  EXPECT_EQ(keys(json["parts"][0]), (std::vector<std::string>{"name", "level_dba"}));
  EXPECT_EQ(json["parts"][0]["name"], "source");
  EXPECT_EQ(json["parts"][1]["name"], "stage 1: pad");
  EXPECT_EQ(keys(json["against"]),
            (std::vector<std::string>{"level_dba", "band_hz", "band_db", "threshold_db",
                                      "audible_bands", "parts"}));
  EXPECT_EQ(keys(json["pad"]),
            (std::vector<std::string>{"attenuation_db", "level_dba", "pad_level_dba", "audible"}));
}

TEST(HissCommand, DrawsInATerminalWithTheSignsOfItsKey) {
  const std::string out =
      run({"hiss", engaged, sensitive, "--against", bare, "--plot", "text"}).out;
  const auto frame = out.find("dB SPL");
  const std::string panel = out.substr(frame, out.rfind("+---") - frame);
  for (const char* label : {"Attenuator on", "Attenuator off", "threshold of"}) {
    const auto at = panel.find(std::string(" ") + label);
    ASSERT_NE(at, std::string::npos) << label << "\n" << out;
    const char sign = panel[at - 1];
    // In the key, and where it is drawn.
    EXPECT_GT(std::count(panel.begin(), panel.end(), sign), 5) << sign << "\n" << out;
  }
}

TEST(HissCommand, NamesTheBandsThatAreHeard) {
  const Scratch scratch;
  const auto loud =
      scratch.write("loud.chain.toml", "[source]\noutput_ohm = 0.3\nnoise_volt = 30e-6\n");
  const auto json = run({"hiss", loud, sensitive, "--json"}).json();
  ASSERT_GT(json["audible_bands"].size(), 0u);
  for (const auto& hz : json["audible_bands"]) {
    const auto at = std::find(json["band_hz"].begin(), json["band_hz"].end(), hz);
    ASSERT_NE(at, json["band_hz"].end());
    const auto i = static_cast<std::size_t>(at - json["band_hz"].begin());
    EXPECT_GT(json["band_db"][i].get<double>(), json["threshold_db"][i].get<double>());
  }
  EXPECT_NE(run({"hiss", loud, sensitive}).out.find("Hiss is audible"), std::string::npos);
  EXPECT_NE(run({"hiss", bare, sensitive}).out.find("Hiss is inaudible"), std::string::npos);
}

// The largest of noise less threshold over the bands is the least margin when nothing is heard.
TEST(HissCommand, NamesTheLeastMargin) {
  const auto json = run({"hiss", bare, sensitive, "--json"}).json();
  double most_db = -1e9;
  for (std::size_t i = 0; i < 31; ++i)
    if (!json["threshold_db"][i].is_null())
      most_db = std::max(most_db,
                         json["band_db"][i].get<double>() - json["threshold_db"][i].get<double>());
  char sentence[80];
  const double down = -most_db < 10 ? std::floor(-most_db * 10) / 10 : std::floor(-most_db);
  std::snprintf(sentence, sizeof sentence,
                "at least %.2g dB below the threshold of hearing, closest",
                down);  // two digits, rounded down
  EXPECT_NE(run({"hiss", bare, sensitive}).out.find(sentence), std::string::npos) << sentence;
}

TEST(HissCommand, SaysWhatTheSurroundingsMask) {
  EXPECT_EQ(run({"hiss", bare, sensitive}).out.find("Surroundings"), std::string::npos);
  const Ran ran = run({"hiss", bare, sensitive, "--ambient", "50"});
  EXPECT_NE(ran.out.find("Surroundings of 50 dB(A), pink, come through the earphone's isolation of "
                         "26 dB"),
            std::string::npos)
      << ran.out;
}

TEST(HissCommand, ChecksALimitOnlyWhereItIsAsked) {
  const auto status = [&](const char* limit) {
    return run({"hiss", bare, sensitive, "--limit-db", limit}).status;
  };
  EXPECT_EQ(status("0"), 0);  // 9 dB under the threshold
  EXPECT_EQ(status("-20"), 1);
}

TEST(HissCommand, FollowsItsOptions) {
  EXPECT_NEAR(level({"--control", "-20"}), level({}) - 20, 1e-9);
  const Scratch scratch;
  const auto spectrum =
      scratch.write("n.csv", "frequency_hz,volt_per_root_hz\n10,1e-8\n1000,1e-8\n30000,1e-8\n");
  EXPECT_NEAR(level({"--noise-spectrum", spectrum}),
              level({"--noise-spectrum", spectrum, "--control", "0"}), 1e-12);
  const auto quiet = run({"hiss", bare, sensitive, "--threshold", "free-field", "--json"}).json();
  EXPECT_NEAR(quiet["threshold_db"][17].get<double>(), 2.4, 1e-12);
  const auto masked = run({"hiss", bare, sensitive, "--ambient", "70", "--json"}).json();
  EXPECT_GT(masked["threshold_db"][17].get<double>(), 5.5);
  const Ran against = run({"hiss", bare, sensitive, "--against", engaged, "--pad", "20"});
  EXPECT_NE(against.out.find("A pad of 20 dB"), std::string::npos) << against.out;
  EXPECT_NE(against.out.find("Against Attenuator on"), std::string::npos) << against.out;
}

TEST(HissCommand, SaysWhichKeyIsMissingAndWhy) {
  expect_refused(run({"hiss", "6", sensitive}), "give a chain file with noise_volt");
  expect_refused(run({"hiss", bare, demo("planar.csv")}), "such as planar.earphone.toml");
  expect_refused(run({"hiss", bare, sensitive, "--threshold", "outside"}), "insert or free-field");
  expect_refused(run({"hiss", bare, sensitive, "--control", "6"}), "0 or less");
  expect_refused(run({"hiss", bare, sensitive, "--pad", "0"}), "is not allowed");
  const Scratch scratch;
  const auto falling = scratch.write("n.csv", "frequency_hz,volt_per_root_hz\n100,1e-8\n50,1e-8\n");
  expect_refused(run({"hiss", bare, sensitive, "--noise-spectrum", falling}), "n.csv:3:1");
  const auto negative = scratch.write("m.csv", "frequency_hz,volt_per_root_hz\n10,-1\n50,1e-8\n");
  expect_refused(run({"hiss", bare, sensitive, "--noise-spectrum", negative}), "m.csv:2:4");
}

TEST(HissCommand, WritesNoNumberWhereNoneIsKnown) {
  const Scratch scratch;
  ASSERT_EQ(run({"hiss", bare, sensitive, "--csv", scratch / "h.csv"}).status, 0);
  EXPECT_EQ(contents(scratch / "h.csv").find("nan"), std::string::npos);
  EXPECT_EQ(csv_rows(scratch / "h.csv").size(), 31u);
}

}  // namespace
}  // namespace ohmtilt::test
