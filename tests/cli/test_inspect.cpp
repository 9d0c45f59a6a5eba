#include <gmock/gmock.h>

#include <ohmtilt/curve/read_curve.h>
#include <ohmtilt/text/text.h>
#include <cmath>
#include <functional>

#include "tests/cli/program.h"

namespace ohmtilt::test {
namespace {

using testing::HasSubstr;

struct Point {
  double hz, ohm, deg;
};

/// A demo curve as a file with its points changed; every step-th of them.
std::string changed(const Scratch& scratch, const std::string& name,
                    const std::function<void(Point&, int)>& change, bool with_phase = true,
                    int step = 1) {
  const ImpedanceCurve curve = read_impedance(demo("two-way-armature.csv")).value;
  std::string text =
      with_phase ? "frequency_hz,magnitude_ohm,phase_deg\n" : "frequency_hz,magnitude_ohm\n";
  for (int i = 0; i < curve.points(); i += step) {
    Point point{curve.frequency_hz()[i], curve.magnitude_ohm()[i], curve.phase_deg()[i]};
    change(point, i);
    if (!(point.hz > 0)) continue;
    text += number_text(point.hz) + "," + number_text(point.ohm);
    text += with_phase ? "," + number_text(point.deg) + "\n" : "\n";
  }
  return scratch.write(name, text).string();
}

std::vector<std::string> kinds(const std::string& file) {
  std::vector<std::string> all;
  const auto json = run({"inspect", file, "--json"}).json();
  for (const auto& finding : json["findings"]) all.push_back(finding["kind"].get<std::string>());
  return all;
}

TEST(InspectCommand, KeepsItsJsonKeys) {
  const auto json = run({"inspect", demo("single-dynamic.csv"), "--json"}).json();
  EXPECT_EQ(keys(json), (std::vector<std::string>{
                            "tool", "version", "command", "points", "range_hz", "phase", "dc_ohm",
                            "min", "max", "rated_ohm", "resonances", "passive", "kramers_kronig",
                            "findings", "whole_95_db", "hidden_q", "warnings"}));
  EXPECT_EQ(keys(json["min"]), (std::vector<std::string>{"ohm", "hz"}));
  EXPECT_EQ(keys(json["resonances"][0]), (std::vector<std::string>{"hz", "ohm"}));
  EXPECT_EQ(keys(json["kramers_kronig"]),
            (std::vector<std::string>{"elements", "mu", "mu_elements", "largest_residual_percent",
                                      "verdict"}));
  EXPECT_EQ(json["points"], 480);
  EXPECT_EQ(json["range_hz"], (std::vector<double>{20, 20000}));
  EXPECT_EQ(json["phase"], "measured");
  EXPECT_EQ(json["passive"], true);
  EXPECT_EQ(json["kramers_kronig"]["verdict"], "consistent");
  EXPECT_TRUE(json["findings"].empty());
  // The demo's circuit: 16.5 + 0.5 ohm, a resonance at 480 Hz.
  EXPECT_NEAR(json["dc_ohm"].get<double>(), 17, 0.05);
  EXPECT_NEAR(json["resonances"][0]["hz"].get<double>(), 480, 5);
  EXPECT_NEAR(json["rated_ohm"].get<double>(), json["min"]["ohm"].get<double>() / 0.8, 1e-12);
}

TEST(InspectCommand, TellsACurveWithoutPhase) {
  const Scratch scratch;
  const std::string file = changed(
      scratch, "blind.csv", [](Point&, int) {}, false);
  const auto json = run({"inspect", file, "--json"}).json();
  EXPECT_EQ(json["phase"], "minimum");
  EXPECT_TRUE(json["kramers_kronig"].is_null());
  EXPECT_EQ(keys(json["findings"][0]),
            (std::vector<std::string>{"kind", "what", "where_hz", "remedy"}));
  EXPECT_EQ(kinds(file), std::vector<std::string>{"magnitude-only"});
  EXPECT_THAT(run({"inspect", file}).out, HasSubstr("was not tested"));
}

TEST(InspectCommand, AnswersTheThreeUsers) {
  const Ran ran = run({"inspect", demo("two-way-armature.csv")});
  EXPECT_EQ(ran.status, 0);
  EXPECT_EQ(ran.err, "");
  for (const char* part : {"comma-separated", "condition: computed", "lowest |Z|", "No fault found",
                           "consistent", "less than ±0.01 dB", "reviewer:", "designer:", "owner:"})
    EXPECT_THAT(ran.out, HasSubstr(part));
}

// IEC 60268-7: the lowest modulus is at least 80 % of the rated value; 13.4 ohm here.
TEST(InspectCommand, ChecksARatedImpedance) {
  const auto run_with = [](const char* ohm) {
    return run({"inspect", demo("two-way-armature.csv"), "--rated", ohm, "--json"}).json();
  };
  EXPECT_EQ(run_with("16")["rated_conforms"], true);
  EXPECT_EQ(run_with("17")["rated_conforms"], false);
  EXPECT_THAT(run({"inspect", demo("two-way-armature.csv"), "--rated", "17"}).out,
              HasSubstr("does not conform"));
  // An earphone file brings its own.
  EXPECT_TRUE(run({"inspect", demo("two-way-armature.earphone.toml"), "--json"})
                  .json()
                  .contains("rated_conforms"));
}

struct Fault {
  const char* kind;
  std::function<void(Point&, int)> change;
  bool with_phase = true;
  int step = 1;
};

TEST(InspectCommand, EachFindingIsReachedFromAFile) {
  const Fault faults[] = {
      {"not-passive",
       [](Point& p, int i) {
         if (i == 100) p.deg = 95;
       }},
      {"outlier",
       [](Point& p, int i) {
         if (i == 200) p.ohm *= 1.08;
       }},
      {"step",
       [](Point& p, int i) {
         if (i >= 200) p.ohm *= 1.08;
       }},
      {"sparse", [](Point&, int) {}, true, 16},
      {"quantised", [](Point& p, int) { p.ohm = std::round(5 * p.ohm) / 5; }},
      {"noisy", [](Point& p, int i) { p.ohm *= 1 + 0.02 * std::sin(7919.0 * i * i); }},
      {"phase-sign", [](Point& p, int) { p.deg = -p.deg; }},
      {"phase-radians", [](Point& p, int) { p.deg *= 3.14159265 / 180; }},
      {"kilohm", [](Point& p, int) { p.ohm /= 1000; }},
      {"kilohertz", [](Point& p, int) { p.hz /= 1000; }},
      {"band-missing",
       [](Point& p, int) {
         if (p.hz < 100 || p.hz > 10000) p.hz = 0;
       }},
      {"magnitude-only", [](Point&, int) {}, false}};
  const Scratch scratch;
  for (const Fault& fault : faults) {
    const std::string file = changed(scratch, std::string(fault.kind) + ".csv", fault.change,
                                     fault.with_phase, fault.step);
    EXPECT_THAT(kinds(file), testing::Contains(fault.kind));
    const std::string text = run({"inspect", file}).out;
    EXPECT_THAT(text, HasSubstr(std::string("  ") + fault.kind + ": "));
    EXPECT_THAT(text, testing::Not(HasSubstr("No fault"))) << fault.kind;
  }
}

// A level in dB that falls at the top, in a file that does not say what its numbers are.
TEST(InspectCommand, AResponseWithoutAHeaderDoesNotPass) {
  std::string rows;
  for (double hz = 20; hz < 20000; hz *= 1.1)
    rows += number_text(hz) + "," + number_text(110 - 20 * hz / 20000) + "\n";
  const Scratch scratch;
  const std::string bare = scratch.write("bare.csv", rows).string();
  EXPECT_THAT(kinds(bare), testing::Contains("looks-like-response"));
  EXPECT_THAT(run({"inspect", bare}).out, HasSubstr("Do not quote"));
  const std::string named =
      scratch.write("named.csv", "frequency_hz,magnitude_ohm\n" + rows).string();
  EXPECT_THAT(kinds(named), testing::Not(testing::Contains("looks-like-response")));
}

// The number that `deviation` states for the same sources.
TEST(InspectCommand, StatesWhatDeviationStates) {
  const Scratch scratch;
  const std::string blind = changed(
      scratch, "blind.csv", [](Point&, int) {}, false, 7);
  for (const std::string& file : {demo("two-way-armature.csv"), blind}) {
    const auto seen = run({"inspect", file, "--json"}).json();
    const auto deviation = run({"deviation", file, "--to", "6", "--json"}).json();
    EXPECT_EQ(seen["whole_95_db"], deviation["cases"][0]["whole_95_db"]) << file;
  }
}

TEST(InspectCommand, LooksAtAPartOfAVeryLongCurveAndSaysSo) {
  std::string rows = "frequency_hz,magnitude_ohm\n";
  for (int i = 0; i <= 20000; ++i)
    rows += number_text(20 * std::pow(1000, i / 20000.0)) + "," + number_text(16 + i * 1e-4) + "\n";
  const Scratch scratch;
  const std::string file = scratch.write("long.csv", rows).string();
  const std::string copy = (scratch / "copy.csv").string();
  const auto ran = run({"inspect", file, "--write", copy});
  EXPECT_THAT(ran.out, HasSubstr("4001 of its 20001 points"));
  EXPECT_THAT(ran.err, HasSubstr("of its 20001 points every 5th was looked at"));
  EXPECT_EQ(run({"inspect", file, "--json"}).json()["points"], 20001);
  EXPECT_EQ(read_impedance(copy).value.points(), 20001);
}

TEST(InspectCommand, TwoPointsAreNotQuoted) {
  const Scratch scratch;
  const std::string two = scratch.write("two.csv", "Freq,Z\n100,16\n10000,20\n").string();
  EXPECT_GT(run({"inspect", two, "--json"}).json()["whole_95_db"], 0.2);
}

TEST(InspectCommand, NoiseAndOutliersAreNoResonances) {
  const Scratch scratch;
  const std::string noisy = changed(scratch, "noisy.csv", [](Point& p, int i) {
    p.ohm *= 1 + 0.015 * std::sin(7919.0 * i * i);
    if (i == 60) p.ohm *= 1.3;
  });
  const auto json = run({"inspect", noisy, "--json"}).json();
  EXPECT_LE(json["resonances"].size(), 3u);  // of the clean curve
  EXPECT_NEAR(json["resonances"][0]["hz"].get<double>(), 1149, 100);
}

TEST(InspectCommand, TurnsThePhaseIntoAVerdict) {
  const Scratch scratch;
  const std::string turned = changed(scratch, "turned.csv", [](Point& p, int) { p.deg = -p.deg; });
  const auto json = run({"inspect", turned, "--json"}).json();
  EXPECT_EQ(json["kramers_kronig"]["verdict"], "inconsistent");
  EXPECT_THAT(run({"inspect", turned}).out, HasSubstr("Do not quote"));
}

TEST(InspectCommand, TakesTheCausalityOptions) {
  const std::string file = demo("two-way-armature.csv");
  const auto run_with = [&](const char* flag, const char* value) {
    return run({"inspect", file, flag, value, "--json"}).json()["kramers_kronig"];
  };
  EXPECT_EQ(run_with("--kk-elements", "6")["elements"], 6);
  EXPECT_GT(run_with("--kk-elements", "4")["largest_residual_percent"].get<double>(),
            run_with("--kk-elements", "12")["largest_residual_percent"].get<double>());
  EXPECT_LE(run_with("--kk-limit", "0.5")["mu"].get<double>(),
            run_with("--kk-limit", "0.95")["mu"].get<double>());
  for (const char* part : {"real", "imaginary"})
    EXPECT_EQ(run_with("--kk-part", part)["verdict"], "consistent") << part;
  expect_refused(run({"inspect", file, "--kk-part", "both"}), "complex, real or imaginary");
  expect_refused(run({"inspect", file, "--kk-limit", "1.5"}), "--kk-limit");
  expect_refused(run({"inspect", file, "--kk-elements", "0"}), "--kk-elements");
  expect_refused(run({"inspect", file, "--kk-elements", "2.5"}), "--kk-elements");
  expect_refused(run({"inspect", file, "--rated", "-4"}), "--rated");
}

TEST(InspectCommand, ConvertsThereAndBack) {
  const Scratch scratch;
  const std::string there = (scratch / "a.s1p").string(), back = (scratch / "a.csv").string();
  ASSERT_EQ(run({"inspect", demo("planar.csv"), "--write", there}).status, 0);
  ASSERT_EQ(run({"inspect", there, "--write", back}).status, 0);
  const ImpedanceCurve before = read_impedance(demo("planar.csv")).value;
  const ImpedanceCurve after = read_impedance(back).value;
  EXPECT_TRUE((before.magnitude_ohm() == after.magnitude_ohm()).all());
  EXPECT_TRUE((before.phase_deg() == after.phase_deg()).all());
  EXPECT_THAT(run({"inspect", there}).out, HasSubstr("Touchstone"));
  EXPECT_EQ(run({"inspect", there, "--write", back}).status, 3);  // it exists
  expect_refused(run({"inspect", there, "--write", (scratch / "a.txt").string()}), ".csv or .s1p");
  const std::string blind = changed(
      scratch, "blind.csv", [](Point&, int) {}, false);
  expect_refused(run({"inspect", blind, "--write", (scratch / "b.s1p").string()}), "phase");
}

TEST(InspectCommand, RefusesWhatIsNoCurve) {
  const Scratch scratch;
  expect_refused(run({"inspect", (scratch / "none.csv").string()}), "none.csv");
  expect_refused(run({"inspect", demo("planar.circuit.toml")}), "no measured curve");
  expect_refused(run({"inspect", demo("bare-output.chain.toml")}), "chain");
  expect_refused(run({"inspect", scratch.write("x.csv", "hz,ohm\n20,8\n30,-9\n").string()}),
                 "x.csv:3");
}

TEST(InspectCommand, DrawsAndWrites) {
  const Scratch scratch;
  const std::string figure = (scratch / "a.svg").string(), csv = (scratch / "a.csv").string();
  ASSERT_EQ(run({"inspect", demo("planar.csv"), "--plot", figure, "--csv", csv}).status, 0);
  EXPECT_THAT(contents(figure), HasSubstr("</svg>"));
  EXPECT_EQ(contents(csv).rfind("frequency_hz,magnitude_ohm,phase_deg,residual_real_percent", 0),
            0u);
}

TEST(InspectCommand, SaysInWordsWhatItFound) {
  const Scratch scratch;
  const auto file = scratch.write(
      "few.csv",
      "frequency_hz,magnitude_ohm\n100,20\n200,22\n372,25\n500,26\n1000,18\n2000,16\n5000,14\n"
      "10000,13\n");
  const auto figure = scratch / "few.svg";
  const Ran ran = run({"inspect", file.string(), "--plot", figure.string()});
  EXPECT_EQ(ran.status, 0) << ran.err;
  for (const char* program_word : {"e+04", "noise of"})
    EXPECT_EQ(ran.out.find(program_word), std::string::npos) << program_word << ran.out;
  for (const char* words : {"Uncertainty from the curve", "no phase"})
    EXPECT_NE(ran.out.find(words), std::string::npos) << words;
  const std::string drawn = contents(figure);
  for (const char* word : {"too few points", "Found: ", "the points"})
    EXPECT_NE(drawn.find(word), std::string::npos) << word;
  for (const char* slug : {"band-missing", "magnitude-only", "sparse"})
    EXPECT_EQ(drawn.find(slug), std::string::npos) << slug;
}

}  // namespace
}  // namespace ohmtilt::test
