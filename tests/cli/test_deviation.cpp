#include <cmath>

#include "tests/cli/program.h"

namespace ohmtilt::test {
namespace {

const std::vector<std::string> deviation_on_demo{
    "deviation", demo("two-way-armature.csv"), "--from", "0.3", "--to", "6"};

TEST(DeviationCommand, AnswersInTextThatCanBeQuoted) {
  const Ran ran = run(deviation_on_demo);
  EXPECT_EQ(ran.status, 0);
  EXPECT_EQ(ran.err, "");
  for (const char* part : {"6 ohm instead of 0.3 ohm", "The response rises by", "level change",
                           "span", "worst case", "1k"})
    EXPECT_NE(ran.out.find(part), std::string::npos) << part << "\n" << ran.out;
}

TEST(DeviationCommand, KeepsItsJsonKeys) {
  const auto json = run(with(deviation_on_demo, {"--json"})).json();
  EXPECT_EQ(keys(json), (std::vector<std::string>{"tool", "version", "command", "earphone",
                                                  "reference_hz", "from", "frequency_hz", "cases",
                                                  "largest_source", "warnings"}));
  EXPECT_EQ(keys(json["earphone"]),
            (std::vector<std::string>{"title", "points", "min_ohm", "min_hz", "max_ohm", "max_hz",
                                      "phase"}));
  EXPECT_EQ(keys(json["from"]), (std::vector<std::string>{"label", "output_ohm"}));
  const auto& first = json["cases"][0];
  for (const char* key :
       {"label", "output_ohm", "level_change_db", "rise", "fall", "span_db", "rms_db",
        "erb_span_db", "bound_db", "deviation_db", "band_lower_db", "band_upper_db", "lower_95_db",
        "upper_95_db", "whole_95_db", "hidden_q", "parts_95_db"})
    EXPECT_TRUE(first.contains(key)) << key;
  EXPECT_EQ(json["earphone"]["phase"], "measured");
  EXPECT_EQ(json["reference_hz"], 1000);
  EXPECT_EQ(json["frequency_hz"].size(), 480u);
  EXPECT_EQ(first["deviation_db"].size(), 480u);
  EXPECT_TRUE(first["band_lower_db"].is_null());
  EXPECT_EQ(first["lower_95_db"].size(), 480u);
  EXPECT_EQ(first["upper_95_db"].size(), 480u);
  EXPECT_LT(first["whole_95_db"], 0.01);
  EXPECT_EQ(keys(first["parts_95_db"]),
            (std::vector<std::string>{"interpolation", "noise", "missing_phase", "band_ends",
                                      "rounding", "stated", "scale"}));
  EXPECT_TRUE(json["largest_source"].is_null());
  EXPECT_EQ(json["warnings"].size(), 0u);
}

TEST(DeviationCommand, CarriesTheCurvesUncertaintyThroughAnEarphoneFile) {
  const Scratch scratch;
  scratch.write("measured.csv",
                "frequency_hz,magnitude_ohm,phase_deg,uncertainty_ohm\n"
                "20,16,0,0.16\n1000,16,0,0.16\n2000,32,0,0.32\n20000,16,0,0.16\n");
  const std::string earphone =
      scratch.write("e.earphone.toml", "title = \"E\"\nimpedance = \"measured.csv\"\n").string();
  const std::string csv = (scratch / "out.csv").string();
  const std::vector<std::string> command{"deviation", earphone, "--from",   "0",
                                         "--to",      "6",      "--anchor", "none"};
  const auto json = run(with(command, {"--json", "--csv", csv})).json();
  const auto& u = json["cases"][0]["parts_95_db"]["stated"];
  ASSERT_EQ(u.size(), 480u);
  // 20/ln 10 (1/16 - 1/22) 0.16
  EXPECT_NEAR(u[0].get<double>(), 1.96 * 8.685889638 * (1 / 16.0 - 1 / 22.0) * 0.16, 1e-9);
  EXPECT_NE(contents(csv).find("lower_95_db_1"), std::string::npos);
  EXPECT_NE(run(command).out.find("Uncertainty from the curve (95 %"), std::string::npos);
}

// A factor common to all magnitudes moves the whole curve: by hand, 20 lg of (Z + 6)/Z at 20 Hz
// against 2 kHz for Z of 16 and 32 ohm, both 1.96 % smaller (larger moves it a little less).
TEST(DeviationCommand, CarriesACommonErrorOfScaleThrough) {
  const Scratch scratch;
  const std::string rows = "frequency_hz,magnitude_ohm,phase_deg\n20,16,0\n2000,32,0\n20000,32,0\n";
  const std::string file =
      scratch.write("scaled.csv", "# scale_uncertainty_percent: 1\n" + rows).string();
  const auto json =
      run({"deviation", file, "--to", "6", "--anchor", "2000", "--json"}).json()["cases"][0];
  const auto change_db = [](double factor) {
    return 20 * std::log10(16 * factor / (16 * factor + 6) * (32 * factor + 6) / (32 * factor));
  };
  EXPECT_NEAR(json["parts_95_db"]["scale"][0].get<double>(), change_db(1) - change_db(1 / 1.0196),
              1e-9);
  const auto bare = run({"deviation", scratch.write("bare.csv", rows).string(), "--to", "6",
                         "--anchor", "2000", "--json"})
                        .json()["cases"][0];
  EXPECT_EQ(bare["parts_95_db"]["scale"][0], 0);
  const auto bad = run(
      {"deviation", scratch.write("bad.csv", "# scale_uncertainty_percent: much\n" + rows).string(),
       "--to", "6"});
  EXPECT_EQ(bad.status, 2);
  EXPECT_NE(bad.err.find("bad.csv:1"), std::string::npos) << bad.err;
}

TEST(DeviationCommand, AnchorsAtABandOrNowhere) {
  const auto band = run(with(deviation_on_demo, {"--json", "--anchor", "band:300-3000"})).json();
  EXPECT_EQ(band["reference_hz"][1], 3000);
  const Scratch scratch;
  const auto flat = scratch.write(
      "flat.csv", "frequency_hz,magnitude_ohm,phase_deg\n20,16,0\n200,16,0\n20000,16,0\n");
  // By hand: 20 lg (22/16) is 2.77 dB, the same at all frequencies.
  const Ran ran = run({"deviation", flat.string(), "--from", "0", "--to", "6", "--anchor", "none"});
  EXPECT_NE(ran.out.find("The response falls by 2.77 dB everywhere: a span of 0.00 dB"),
            std::string::npos)
      << ran.out;
  EXPECT_NE(ran.out.find("smallest fall"), std::string::npos) << ran.out;
  // The demo curve falls everywhere too, by less where its impedance is higher.
  EXPECT_NE(run(with(deviation_on_demo, {"--anchor", "none"}))
                .out.find("The response falls everywhere, by "),
            std::string::npos);
  const auto none = run(with(deviation_on_demo, {"--json", "--anchor", "none"})).json();
  EXPECT_TRUE(none["reference_hz"].is_null());
  EXPECT_EQ(none["cases"][0]["level_change_db"], 0);
  EXPECT_LT(none["cases"][0]["rise"]["db"], 0);  // every level falls behind a higher source
  expect_refused(run(with(deviation_on_demo, {"--anchor", "5"})), "outside the data");
  expect_refused(run(with(deviation_on_demo, {"--anchor", "middle"})), "--anchor \"middle\"");
  expect_refused(run(with(deviation_on_demo, {"--anchor", "band:3000-300"})), "lower first");
}

TEST(DeviationCommand, TakesSeveralSourcesAndCodes) {
  const auto json =
      run({"deviation", demo("two-way-armature.csv"), "--to", "6R0", "--to", "R30", "--json"})
          .json();
  ASSERT_EQ(json["cases"].size(), 2u);
  EXPECT_EQ(json["cases"][0]["output_ohm"], 6);
  EXPECT_EQ(json["cases"][1]["output_ohm"], 0.3);
  EXPECT_EQ(json["cases"][0]["label"], "6 ohm");
  EXPECT_EQ(json["from"]["output_ohm"], 0);
}

TEST(DeviationCommand, TakesAMeasuredOutputImpedance) {
  const Scratch scratch;
  const auto file = scratch.write(
      "output.csv", "frequency_hz,real_ohm,imag_ohm\n10,6,0\n100,6,0\n1000,6,0\n30000,6,0\n");
  const auto measured = run({"deviation", demo("planar.csv"), "--to", file, "--json"}).json();
  const auto number = run({"deviation", demo("planar.csv"), "--to", "6", "--json"}).json();
  EXPECT_NEAR(measured["cases"][0]["span_db"].get<double>(),
              number["cases"][0]["span_db"].get<double>(), 1e-12);
  EXPECT_EQ(measured["cases"][0]["label"], "output");
}

TEST(DeviationCommand, SaysWhetherALimitHolds) {
  const Ran beyond = run(with(deviation_on_demo, {"--json", "--limit-db", "1"}));
  EXPECT_EQ(beyond.status, 1);
  const double largest = beyond.json()["largest_source"]["ohm"];
  EXPECT_GT(largest, 0.3);
  EXPECT_LT(largest, 6);
  EXPECT_EQ(run(with(deviation_on_demo, {"--limit-db", "5"})).status, 0);
  // At the largest source itself the span is the limit.
  const auto there = run({"deviation", demo("two-way-armature.csv"), "--from", "0.3", "--to",
                          std::to_string(largest), "--json"});
  EXPECT_NEAR(there.json()["cases"][0]["span_db"].get<double>(), 1, 1e-5);
  expect_refused(run(with(deviation_on_demo, {"--limit-db", "-1"})), "is not allowed");
  expect_refused(run(with(deviation_on_demo, {"--limit-db", "1", "--largest-source", "2"})),
                 "two different limits");
}

TEST(DeviationCommand, GivesTheInverseAnswerAlone) {
  const auto json =
      run({"deviation", demo("planar.csv"), "--largest-source", "1", "--json"}).json();
  EXPECT_EQ(json["cases"].size(), 0u);
  EXPECT_EQ(json["largest_source"]["limit_db"], 1);
  EXPECT_TRUE(json["largest_source"]["ohm"].is_null());
  EXPECT_EQ(json["warnings"].size(), 1u);
  expect_refused(run({"deviation", demo("planar.csv")}), "no source to compare with");
}

TEST(DeviationCommand, WritesTheNumbersBehindTheFigure) {
  const Scratch scratch;
  const std::string csv = scratch / "out.csv";
  EXPECT_EQ(run(with(deviation_on_demo,
                     {"--csv", csv, "--response", demo("two-way-armature.response.csv")}))
                .status,
            0);
  const auto rows = csv_rows(csv);
  ASSERT_EQ(rows.size(), 480u);
  EXPECT_EQ(
      contents(csv).substr(0, contents(csv).find('\n')),
      "frequency_hz,response_before_db,deviation_db_1,lower_95_db_1,upper_95_db_1,response_db_1");
  const auto& row = rows[300];
  EXPECT_NEAR(std::stod(row.at("response_db_1")),
              std::stod(row.at("response_before_db")) + std::stod(row.at("deviation_db_1")), 1e-12);
  // It exists now: the file stays as it was without --force.
  const Ran again = run(with(deviation_on_demo, {"--csv", csv}));
  EXPECT_EQ(again.status, 3);
  EXPECT_NE(again.err.find("--force"), std::string::npos);
  EXPECT_NE(again.out, "");  // the numbers are printed all the same
  EXPECT_EQ(csv_rows(csv).size(), 480u);
  EXPECT_EQ(run(with(deviation_on_demo, {"--csv", csv, "--force"})).status, 0);
}

TEST(DeviationCommand, WarnsWhereTheDataDoNotReach) {
  const Scratch scratch;
  std::string text = "frequency_hz,magnitude_ohm,phase_deg\n";
  for (int hz = 100; hz <= 5000; hz += 100) text += std::to_string(hz) + ",16,0\n";
  const auto json =
      run({"deviation", scratch.write("short.csv", text), "--to", "6", "--json"}).json();
  EXPECT_EQ(json["frequency_hz"][0], 100);
  EXPECT_EQ(json["frequency_hz"][479], 5000);
  ASSERT_EQ(json["warnings"].size(), 1u);
  EXPECT_NE(json["warnings"][0].get<std::string>().find("nothing is said outside"),
            std::string::npos);
}

TEST(DeviationCommand, BoundsAMagnitudeOnlyCurve) {
  const Scratch scratch;
  std::string text = "frequency_hz,magnitude_ohm\n";
  for (const auto& row : csv_rows(demo("two-way-armature.csv")))
    text += row.at("frequency_hz") + "," + row.at("magnitude_ohm") + "\n";
  const auto bare =
      run({"deviation", scratch.write("bare.csv", text), "--from", "0.3", "--to", "6", "--json"})
          .json();
  const auto full = run(with(deviation_on_demo, {"--json"})).json();
  EXPECT_EQ(bare["earphone"]["phase"], "minimum");
  const auto& guess = bare["cases"][0];
  for (std::size_t i = 0; i < 480; ++i) {
    const double truth = full["cases"][0]["deviation_db"][i];
    EXPECT_LE(guess["band_lower_db"][i].get<double>(), truth + 1e-9);
    EXPECT_GE(guess["band_upper_db"][i].get<double>(), truth - 1e-9);
    EXPECT_NEAR(guess["deviation_db"][i].get<double>(), truth, 0.1);
    EXPECT_LE(std::abs(guess["deviation_db"][i].get<double>() - truth),
              guess["whole_95_db"].get<double>());
  }
}

TEST(DeviationCommand, RefusesWhatCannotBe) {
  expect_refused(run(with(deviation_on_demo, {"--to", "-6"})), "not physical");
  expect_refused(run(with(deviation_on_demo, {"--to", "six"})), "neither a resistance nor a file");
  expect_refused(run(with(deviation_on_demo, {"--to", "inf"})), "not physical");
  expect_refused(run(with(deviation_on_demo, {"--band", "20"})), "--band");
  expect_refused(run(with(deviation_on_demo, {"--points", "1"})), "--points");
  expect_refused(run(with(deviation_on_demo, {"--points", "2.5"})), "--points");
  expect_refused(run(with(deviation_on_demo, {"--plot", "figure.bmp"})), ".svg");
  expect_refused(run(with(deviation_on_demo, {"--plot", "text", "--json"})), "standard output");
  expect_refused(run({"deviation", "no-such-file.csv", "--to", "6"}), "no-such-file.csv");
  expect_refused(run({"deviation"}), "ohmtilt deviation --help");
  expect_refused(run({"devation", "x"}), "--help");
  expect_refused(run({}), "--help");
  expect_refused(run(with(deviation_on_demo, {"--response", demo("two-way-armature.csv")})),
                 "two-way-armature.csv");
}

TEST(DeviationCommand, IsTheSameTwice) {
  EXPECT_EQ(run(with(deviation_on_demo, {"--json"})).out,
            run(with(deviation_on_demo, {"--json"})).out);
}

TEST(Program, ExplainsItself) {
  const Ran help = run({"--help"});
  EXPECT_EQ(help.status, 0);
  EXPECT_NE(help.out.find("deviation"), std::string::npos);
  EXPECT_NE(run({"deviation", "--help"}).out.find("Example:"), std::string::npos);
  EXPECT_EQ(run({"--version"}).status, 0);
}

// 10 ohm throughout: 6 ohm change the level and nothing else.
TEST(DeviationCommand, SaysNowhereInPlaceOfZero) {
  const Scratch scratch;
  const auto flat =
      scratch.write("flat.csv", "frequency_hz,magnitude_ohm,phase_deg\n20,10,0\n20000,10,0\n");
  const Ran ran = run({"deviation", flat, "--to", "6"});
  EXPECT_NE(ran.out.find("The response changes nowhere by as much as 0.01 dB"), std::string::npos)
      << ran.out;
  EXPECT_EQ(ran.out.find("0.00 dB at"), std::string::npos) << ran.out;
  EXPECT_NE(ran.out.find("measured phase"), std::string::npos) << ran.out;
  // A peak at the anchor: the response falls everywhere else.
  const auto peak = scratch.write(
      "peak.csv", "frequency_hz,magnitude_ohm,phase_deg\n20,10,0\n1000,40,0\n20000,10,0\n");
  const Ran falls = run({"deviation", peak, "--to", "6"});
  EXPECT_NE(falls.out.find("The response rises nowhere and falls by"), std::string::npos)
      << falls.out;
  EXPECT_NE(falls.out.find("Mean deviation over each octave"), std::string::npos) << falls.out;
}

// Columns as wcwidth counts them: a letter takes one, an East Asian one two, whatever its bytes.
TEST(DeviationCommand, AlignsColumnsOfAnyScript) {
  const Scratch scratch;
  const std::string chain = "[source]\noutput_ohm = 3\n";
  const auto umlaut = scratch.write("a.chain.toml", "title = \"Verst\u00e4rk\"\n" + chain);
  const auto japanese = scratch.write("b.chain.toml", "title = \"\u65e5\u672c\"\n" + chain);
  const Ran ran = run({"deviation", demo("planar.csv"), "--to", umlaut, "--to", japanese});
  EXPECT_NE(ran.out.find("\n  Verst\u00e4rk, dB  "), std::string::npos) << ran.out;
  EXPECT_NE(ran.out.find("\n  \u65e5\u672c, dB      "), std::string::npos) << ran.out;
}

TEST(DeviationCommand, CutsLongNamesAndKeepsTheNumber) {
  const Scratch scratch;
  std::string name;
  for (int i = 0; i < 12; ++i) name += "\u0423\u0441\u0438\u043b\u0438\u0442\u0435\u043b\u044c ";
  const auto chain =
      scratch.write("a.chain.toml", "title = \"" + name + "\"\n[source]\noutput_ohm = 6\n");
  const auto plot = scratch / "p.svg";
  const Ran ran = run(
      {"deviation", demo("two-way-armature.csv"), "--from", chain, "--to", "0.3", "--plot", plot});
  ASSERT_EQ(ran.status, 0) << ran.err;
  EXPECT_NE(contents(plot).find("dB at 7.08 kHz"), std::string::npos);
  EXPECT_NE(contents(plot).find("\u2026"), std::string::npos);
}

TEST(DeviationCommand, TakesAListOfSources) {
  const auto planar = demo("planar.csv");
  EXPECT_EQ(run({"deviation", planar, "--to", "6,10", "--json"}).json(),
            run({"deviation", planar, "--to", "6", "--to", "10", "--json"}).json());
  expect_refused(run({"deviation", planar, "--to", "0,3"}), "write 0.3 with a point");
  expect_refused(run({"deviation", planar, "--to", "6,,10"}), "empty place");
  const Scratch scratch;
  const auto chain = scratch.write("a,b.chain.toml", "title = \"A\"\n[source]\noutput_ohm = 3\n");
  EXPECT_EQ(run({"deviation", planar, "--to", chain, "--json"}).json()["cases"].size(), 1u);
}

// What the keys say is what a changed chain file gives: 18 ohm becomes 18.18 ohm.
TEST(DeviationCommand, SaysWhatOnePercentMoreChanges) {
  const Scratch scratch;
  const auto chain = [&](const std::string& name, const std::string& ohm) {
    return scratch
        .write(name,
               "[source]\noutput_ohm = 0.3\n[[stage]]\nkind = \"pad\"\ntopology = \"L\"\n"
               "series_ohm = " +
                   ohm + "\nshunt_ohm = 9.1\n")
        .string();
  };
  const std::string earphone = demo("two-way-armature.circuit.toml");
  const std::string figure = (scratch / "a.svg").string(), csv = (scratch / "a.csv").string();
  const Ran ran = run({"deviation", earphone, "--to", chain("a.chain.toml", "18"), "--sensitivity",
                       "--plot", figure, "--csv", csv, "--json"});
  const auto one = ran.json()["cases"][0];
  const auto more = run({"deviation", earphone, "--to", chain("b.chain.toml", "18.18"), "--json"})
                        .json()["cases"][0];
  EXPECT_EQ(keys(one["changes"][0]),
            (std::vector<std::string>{"of", "part", "quantity", "percent", "span_db", "peak_db",
                                      "peak_hz", "deviation_db"}));
  int found = 0;
  for (const auto& change : one["changes"])
    if (change["part"] == "stage 1: pad.series") {
      ++found;
      EXPECT_EQ(change["of"], "to");
      EXPECT_NEAR(change["span_db"].get<double>(),
                  more["span_db"].get<double>() - one["span_db"].get<double>(), 1e-9);
    }
  EXPECT_EQ(found, 1);
  EXPECT_NE(contents(csv).find("change_db_1_to_stage 1: pad.series.ohm"), std::string::npos);
  EXPECT_NE(contents(figure).find("Change of the deviation for 1 % more"), std::string::npos);
  const Ran text = run({"deviation", earphone, "--to", "6", "--sensitivity"});
  EXPECT_NE(text.out.find("What matters with 6 ohm"), std::string::npos) << text.out;
  EXPECT_NE(text.out.find("to: 6 ohm, impedance"), std::string::npos) << text.out;
}

}  // namespace
}  // namespace ohmtilt::test
