#include <cmath>

#include "tests/cli/program.h"

namespace ohmtilt::test {
namespace {

const std::vector<std::string> pad_on_demo{
    "pad", demo("two-way-armature.csv"), "--source", "0.3", "--attenuation", "10", "--topology",
    "L"};

TEST(PadCommand, AnswersInTextThatCanBeQuoted) {
  const Ran ran = run(pad_on_demo);
  EXPECT_EQ(ran.status, 0);
  EXPECT_EQ(ran.err, "");
  for (const char* part : {"attenuation", "output impedance", "lowest load to the amplifier",
                           "rating", "of 5329 combinations", "smallest span"})
    EXPECT_NE(ran.out.find(part), std::string::npos) << part << "\n" << ran.out;
}

TEST(PadCommand, KeepsItsJsonKeys) {
  const auto json = run(with(pad_on_demo, {"--json"})).json();
  EXPECT_EQ(keys(json), (std::vector<std::string>{"tool",
                                                  "version",
                                                  "command",
                                                  "earphone",
                                                  "source",
                                                  "from",
                                                  "reference_hz",
                                                  "rated_ohm",
                                                  "asked_attenuation_db",
                                                  "open_volt",
                                                  "after",
                                                  "ambient_celsius",
                                                  "candidates",
                                                  "recommended",
                                                  "reason",
                                                  "parts",
                                                  "searched",
                                                  "ladder",
                                                  "limits_exceeded",
                                                  "nearest",
                                                  "warnings"}));
  const auto& candidates = json["candidates"];
  ASSERT_GT(candidates.size(), 5u);
  EXPECT_EQ(
      keys(candidates[0]),
      (std::vector<std::string>{"topology", "values_ohm", "attenuation_db", "attenuation_error_db",
                                "output_ohm", "span_db", "input_min_ohm", "largest_ampere",
                                "dissipation_milliwatt", "attenuation_p95_db",
                                "channel_difference_p95_db", "noise_volt_a_weighted", "pareto"}));
  EXPECT_EQ(json["searched"], 73 * 73);  // E24 from 1 to 1000 ohm, both ends
  ASSERT_LT(json["recommended"].get<std::size_t>(), candidates.size());
  EXPECT_EQ(json["parts"].size(), 2u);
  EXPECT_EQ(keys(json["parts"][0]), (std::vector<std::string>{"name", "count", "ohm", "code",
                                                              "rating_watt", "tolerance_percent"}));
  for (const auto& one : candidates) {
    EXPECT_TRUE(one["pareto"].get<bool>());
    EXPECT_LE(std::abs(one["attenuation_error_db"].get<double>()), 0.5);
  }
}

const std::string cable_stage = "[[stage]]\nkind = \"cable\"\nconductor_ohm = 1.5\n";

// A cable behind the pad: what the search says of a pad in the middle of the chain is what the
// whole chain, written, does to the earphone.
TEST(PadCommand, StandsWhereItIsToldTo) {
  const Scratch scratch;
  const std::string cable =
      scratch.write("cable.chain.toml", "[source]\noutput_ohm = 0.3\n" + cable_stage).string();
  const std::string padded = (scratch / "padded.chain.toml").string();
  const std::string two_way = demo("two-way-armature.csv");
  const auto json = run({"pad", two_way, "--source", cable, "--attenuation", "10", "--topology",
                         "L", "--after", "0", "--from", "0.3", "--write", padded, "--json"})
                        .json();
  EXPECT_EQ(json["after"], 0);
  const auto best = json["candidates"][json["recommended"].get<std::size_t>()];
  const Ran deviation = run({"deviation", two_way, "--from", "0.3", "--to", padded, "--json"});
  ASSERT_EQ(deviation.status, 0) << deviation.err;
  EXPECT_NEAR(deviation.json()["cases"][0]["span_db"].get<double>(), best["span_db"].get<double>(),
              1e-6);
  const std::string text = contents(padded);
  EXPECT_LT(text.find("\"pad\""), text.find("\"cable\"")) << text;
  const auto behind =
      run({"pad", two_way, "--source", cable, "--attenuation", "10", "--topology", "L", "--json"})
          .json();
  EXPECT_TRUE(behind["after"].is_null());
  expect_refused(run({"pad", two_way, "--source", cable, "--attenuation", "10", "--after", "2"}),
                 "names no place");
  expect_refused(run({"pad", two_way, "--source", cable, "--attenuation", "10", "--after", "0",
                      "--rated", "32"}),
                 "--rated");
}

TEST(PadCommand, TakesABalancedLWhereTheSourceIsBalanced) {
  const Scratch scratch;
  const std::string source =
      scratch.write("b.chain.toml", "[source]\noutput_ohm = 0.6\nbalanced = true\n").string();
  const auto json =
      run({"pad", demo("two-way-armature.csv"), "--source", source, "--attenuation", "10",
           "--series", "E6", "--range", "1-100", "--limit-parts", "3", "--json"})
          .json();
  const auto best = json["candidates"][json["recommended"].get<std::size_t>()];
  EXPECT_EQ(best["topology"], "U");
  EXPECT_EQ(json["parts"][0]["count"], 2);
}

// 155 deg C less 127.5 is a third of 155 less 70 (common practice): thrice the rating, or more.
TEST(PadCommand, RatesItsResistorsForTheirSurroundings) {
  std::vector<double> rating;
  for (const char* celsius : {"25", "126.7"}) {
    const auto json =
        run(with(pad_on_demo, {"--volt", "4", "--ambient", celsius, "--json"})).json();
    rating.push_back(json["parts"][0]["rating_watt"].get<double>());
  }
  EXPECT_GE(rating[1], 2 * rating[0]);
  expect_refused(run(with(pad_on_demo, {"--ambient", "160"})), "--ambient 160");
}

TEST(PadCommand, WritesItsPartsAsATable) {
  const Scratch scratch;
  const std::string file = (scratch / "parts.csv").string();
  ASSERT_EQ(run({"pad", demo("two-way-armature.csv"), "--topology", "H", "--values", "10,22,10",
                 "--parts", file})
                .status,
            0);
  const std::string table = contents(file);
  EXPECT_EQ(table.substr(0, table.find('\n')),
            "count,names,kind,value,unit,code,series_ohm,tolerance_percent,milliwatt,rating_watt");
  EXPECT_NE(table.find("4,"), std::string::npos) << table;  // both arms, in both legs
  EXPECT_NE(table.find("22R"), std::string::npos) << table;
}

// Behind 1 mF a pad gives back the bass that the capacitor took: from the source itself that is
// deviation, from an ideal one it is not.
TEST(PadCommand, TakesTheSpanFromAnotherSource) {
  const Scratch scratch;
  const std::string coupled =
      scratch.write("coupled.chain.toml", "[source]\noutput_ohm = 1\noutput_farad = 1e-3\n")
          .string();
  const std::vector<std::string> args{"pad", demo("planar.csv"), "--source", coupled, "--topology",
                                      "L",   "--values",         "33,3.3",   "--json"};
  const auto span = [](const Ran& ran) {
    return ran.json()["candidates"][0]["span_db"].get<double>();
  };
  const Ran ideal = run(with(args, {"--from", "0"}));
  EXPECT_GT(span(run(args)), 0.8);
  EXPECT_LT(span(ideal), 0.3);
  EXPECT_EQ(ideal.json()["from"], "0 ohm");
  const std::string csv = (scratch / "pads.csv").string();
  EXPECT_EQ(run(with(args, {"--csv", csv})).status, 0);
  for (const char* column : {"dissipation_milliwatt_2", "noise_volt_a_weighted",
                             "attenuation_p95_db", "channel_difference_p95_db"})
    EXPECT_NE(contents(csv).find(column), std::string::npos);
}

TEST(PadCommand, EvaluatesTheDemosPadAsDeviationDoes) {
  const auto pad =
      run({"pad", demo("two-way-armature.csv"), "--source", demo("bare-output.chain.toml"),
           "--topology", "L", "--values", "18,9.1", "--json"})
          .json();
  const auto deviation =
      run({"deviation", demo("two-way-armature.csv"), "--from", demo("bare-output.chain.toml"),
           "--to", demo("attenuator-engaged.chain.toml"), "--json"})
          .json();
  const auto& one = pad["candidates"][0];
  EXPECT_NEAR(one["span_db"].get<double>(), deviation["cases"][0]["span_db"].get<double>(), 1e-9);
  EXPECT_NEAR(one["output_ohm"].get<double>(), deviation["cases"][0]["output_ohm"].get<double>(),
              1e-9);
  EXPECT_NEAR(one["attenuation_db"].get<double>(),
              -deviation["cases"][0]["level_change_db"].get<double>(), 1e-9);
  EXPECT_TRUE(one["attenuation_error_db"].is_null());
  EXPECT_EQ(pad["open_volt"], 4);  // the chain's own
}

// What a third resistor brings is beyond hearing, so the pad of two is recommended.
TEST(PadCommand, RecommendsNoResistorThatBringsNothing) {
  const auto best = [](const char* earphone, const char* db) {
    const auto json =
        run({"pad", demo(earphone), "--source", "0.3", "--attenuation", db, "--json"}).json();
    return json["candidates"][json["recommended"].get<std::size_t>()];
  };
  for (const char* db : {"6", "15", "20"})
    EXPECT_EQ(best("two-way-armature.csv", db)["topology"], "L") << db;
  const auto deep = best("five-armature.csv", "60");
  EXPECT_EQ(deep["topology"], "L");
  EXPECT_LT(deep["span_db"].get<double>(), 1.13);
}

TEST(PadCommand, WritesAChainThatDeviationReadsBack) {
  const Scratch scratch;
  const std::string file = (scratch / "padded.chain.toml").string();
  const auto found = run(with(pad_on_demo, {"--write", file, "--json"})).json();
  const auto& best = found["candidates"][found["recommended"].get<std::size_t>()];
  const auto deviation =
      run({"deviation", demo("two-way-armature.csv"), "--from", "0.3", "--to", file, "--json"})
          .json();
  EXPECT_NEAR(deviation["cases"][0]["span_db"].get<double>(), best["span_db"].get<double>(), 1e-9);
  EXPECT_NEAR(deviation["cases"][0]["level_change_db"].get<double>(),
              -best["attenuation_db"].get<double>(), 1e-9);
  EXPECT_EQ(run(with(pad_on_demo, {"--write", file})).status, 3);  // it exists
  EXPECT_EQ(run(with(pad_on_demo, {"--write", file, "--force"})).status, 0);
}

TEST(PadCommand, WritesFilesThatStandElsewhere) {
  const Scratch scratch;
  std::filesystem::create_directory(scratch / "far");
  scratch.write("output.csv", "frequency_hz,magnitude_ohm,phase_deg\n10,2,0\n30000,2,5\n");
  const auto chain =
      scratch.write("amplifier.chain.toml", "[source]\noutput_curve = \"output.csv\"\n");
  const std::string place = (scratch / "far/padded.chain.toml").string();
  EXPECT_EQ(run({"pad", demo("two-way-armature.csv"), "--source", chain.string(), "--topology", "L",
                 "--values", "18,9.1", "--write", place})
                .status,
            0);
  EXPECT_NE(contents(place).find("\"../output.csv\""), std::string::npos) << contents(place);
  EXPECT_EQ(run({"deviation", demo("two-way-armature.csv"), "--to", place}).status, 0);
}

TEST(PadCommand, GivesTheFormulasValuesForAMatchedPad) {
  // 600 ohm, 20 dB: Bird, Electrical Circuit Theory and Technology, 2nd ed., ch. 41, ex. 8 (T 491
  // and 121 ohm) and 9 (pi 2970 and 733 ohm).
  const auto ideal = [](const char* topology) {
    return run({"pad", demo("two-way-armature.csv"), "--source", "600", "--ideal", "--rated", "600",
                "--attenuation", "20", "--topology", topology, "--json"})
        .json()["candidates"][0];
  };
  const auto t = ideal("T");
  EXPECT_NEAR(t["values_ohm"][0].get<double>(), 491, 0.5);
  EXPECT_NEAR(t["values_ohm"][1].get<double>(), 121, 0.5);
  EXPECT_NEAR(t["attenuation_db"].get<double>(), 20, 1e-12);
  EXPECT_NEAR(t["output_ohm"].get<double>(), 600, 1e-9);
  const auto pi = ideal("pi");
  EXPECT_NEAR(pi["values_ohm"][0].get<double>(), 733, 0.5);
  EXPECT_NEAR(pi["values_ohm"][1].get<double>(), 2970, 0.5);
}

TEST(PadCommand, TakesItsValuesFromAStock) {
  const Scratch scratch;
  const auto stock = scratch.write("stock.txt", "# drawer\n4R7, 10\n22 4k7;R33\n");
  const auto json = run(with(pad_on_demo, {"--stock", stock.string(), "--range", "1-100",
                                           "--within", "6", "--all", "--json"}))
                        .json();
  EXPECT_EQ(json["searched"], 9);
  for (const auto& one : json["candidates"])
    for (const double ohm : one["values_ohm"]) EXPECT_TRUE(ohm == 4.7 || ohm == 10 || ohm == 22);
  const auto bad = scratch.write("bad.txt", "10\n22 about 30\n");
  expect_refused(run(with(pad_on_demo, {"--stock", bad.string()})), "bad.txt:2:4: \"about\"");
  const auto none = scratch.write("none.txt", "# nothing\n");
  expect_refused(run(with(pad_on_demo, {"--stock", none.string()})), "no part in it");
}

TEST(PadCommand, SwitchStepsShareTheirResistors) {
  const auto ran = run({"pad", demo("two-way-armature.csv"), "--source", "0.3", "--steps",
                        "0,3,6,10,20", "--series", "E96", "--json"});
  ASSERT_EQ(ran.status, 0) << ran.err;
  const auto ladder = ran.json()["ladder"];
  ASSERT_EQ(ladder["steps"].size(), 5u);
  double total = 0;
  for (const double ohm : ladder["ohm"]) total += ohm;
  for (const auto& step : ladder["steps"]) {
    EXPECT_NEAR(step["series_ohm"].get<double>() + step["shunt_ohm"].get<double>(), total, 1e-9);
    EXPECT_LT(std::abs(step["attenuation_error_db"].get<double>()), 0.3);
    EXPECT_GE(step["channel_difference_p95_db"].get<double>(), 0);
  }
  // Each step alone, by the same program.
  const auto& step = ladder["steps"][3];
  const auto alone =
      run({"pad", demo("two-way-armature.csv"), "--source", "0.3", "--topology", "L", "--values",
           std::to_string(step["series_ohm"].get<double>()) + "," +
               std::to_string(step["shunt_ohm"].get<double>()),
           "--json"})
          .json()["candidates"][0];
  EXPECT_NEAR(alone["attenuation_db"].get<double>(), step["attenuation_db"].get<double>(), 1e-6);
  // One resistor above and one below: the draws of the row are those of that pad.
  const auto whole =
      run({"pad", demo("two-way-armature.csv"), "--source", "0.3", "--steps", "0,6", "--json"})
          .json()["ladder"];
  ASSERT_EQ(whole["ohm"].size(), 2u);
  const auto pad =
      run({"pad", demo("two-way-armature.csv"), "--source", "0.3", "--topology", "L", "--values",
           std::to_string(whole["ohm"][0].get<double>()) + "," +
               std::to_string(whole["ohm"][1].get<double>()),
           "--json"})
          .json()["candidates"][0];
  for (const char* key : {"attenuation_p95_db", "channel_difference_p95_db"})
    EXPECT_NEAR(whole["steps"][1][key].get<double>(), pad[key].get<double>(), 1e-9) << key;
  expect_refused(run({"pad", demo("two-way-armature.csv"), "--steps", "3,0"}), "should rise");
}

// By hand: across 16 ohm, the best of 470 and 1000 ohm alone leave tens of decibels.
TEST(PadCommand, RefusesASwitchThatTheStockCannotGive) {
  const Scratch scratch;
  const auto flat =
      scratch.write("flat.csv", "frequency_hz,magnitude_ohm,phase_deg\n20,16,0\n20000,16,0\n");
  const auto stock = scratch.write("stock.txt", "470\n1000\n");
  std::vector<std::string> command{"pad",     flat.string(), "--source", "0.3",
                                   "--steps", "0,6,12,20",   "--stock",  stock.string()};
  const Ran ran = run(command);
  expect_refused(ran, "with the values there are, the step of ");
  EXPECT_NE(ran.err.find("further off than 0.5 dB"), std::string::npos) << ran.err;
  EXPECT_EQ(run(with(command, {"--within", "40"})).status, 0);
}

TEST(PadCommand, DrawsAndTabulatesASwitch) {
  const Scratch scratch;
  const auto figure = scratch / "switch.svg", table = scratch / "switch.csv";
  const Ran ran = run({"pad", demo("two-way-armature.csv"), "--steps", "0,6,12", "--plot",
                       figure.string(), "--csv", table.string()});
  ASSERT_EQ(ran.status, 0) << ran.err;
  EXPECT_NE(ran.out.find("channels 95 %"), std::string::npos);
  EXPECT_TRUE(std::filesystem::exists(figure));
  const auto rows = csv_rows(table);
  ASSERT_EQ(rows.size(), 3u);
  EXPECT_EQ(rows[1].at("asked_db"), "6");
  EXPECT_GT(std::stod(rows[1].at("attenuation_p95_db")), 0);
}

TEST(PadCommand, NamesTheNearestWhereNoneComesNear) {
  const Scratch scratch;
  const auto stock = scratch.write("stock.txt", "470 1000\n");
  const Ran ran = run(with(pad_on_demo, {"--stock", stock.string()}));
  EXPECT_EQ(ran.status, 1);
  EXPECT_NE(ran.out.find("No pad comes within 0.50 dB of 10.00 dB"), std::string::npos) << ran.out;
  EXPECT_NE(ran.out.find("The nearest, L 470 / 1000 ohm, attenuates by"), std::string::npos)
      << ran.out;
  expect_refused(
      run({"pad", demo("two-way-armature.csv"), "--steps", "0,6,12,20", "--stock", stock.string()}),
      "the step of");
}

TEST(PadCommand, HoldsASwitchAgainstTheLimits) {
  const std::vector<std::string> on_five{"pad",      demo("five-armature.csv"),
                                         "--source", demo("bare-output.chain.toml"),
                                         "--steps",  "0,6"};
  const Ran ran = run(with(on_five, {"--limit-span-db", "1", "--limit-parts", "2"}));
  EXPECT_EQ(ran.status, 1);
  EXPECT_NE(ran.out.find("exceeds a limit: span 1."), std::string::npos) << ran.out;
  EXPECT_NE(ran.out.find("(step of 6 dB)"), std::string::npos) << ran.out;
  EXPECT_EQ(ran.out.find("resistors, at most"), std::string::npos) << ran.out;
  EXPECT_NE(ran.out.find("audible as a change of tonal balance"), std::string::npos) << ran.out;
  EXPECT_NE(ran.err.find("the earphone alone with 4.29 ohm"), std::string::npos) << ran.err;
  EXPECT_NE(ran.err.find("more than its 160 mA"), std::string::npos) << ran.err;
  EXPECT_EQ(run(with(on_five, {"--limit-span-db", "5"})).status, 0);
  for (const auto& limit : {"--limit-output-ohm", "--limit-dissipation-milliwatt"})
    EXPECT_EQ(run(with(on_five, {limit, "0.5"})).status, 1) << limit;
  EXPECT_EQ(run(with(on_five, {"--limit-input-ohm", "100"})).status, 1);
  EXPECT_EQ(run(with(on_five, {"--limit-noise-volt", "1e-12"})).status, 1);
  EXPECT_EQ(run(with(on_five, {"--limit-parts", "1"})).status, 1);
  expect_refused(run(with(on_five, {"--attenuation", "10"})), "not a single pad");
  expect_refused(run({"pad", demo("five-armature.csv"), "--step", "6", "--attenuation", "6"}),
                 "needs a switched attenuator");
}

TEST(PadCommand, GivesTheRowTheResistanceThatItWasAskedFor) {
  const auto total = [](const std::vector<std::string>& more) {
    const auto ladder =
        run(with({"pad", demo("five-armature.csv"), "--steps", "0,6,12", "--json"}, more))
            .json()["ladder"];
    double sum = 0;
    for (const double ohm : ladder["ohm"]) sum += ohm;
    return sum;
  };
  EXPECT_NEAR(total({"--range", "0.1-100"}), 4.29, 0.52);  // the earphone's lowest, 12 %
  EXPECT_NEAR(total({"--ladder-ohm", "20"}), 20, 2.4);
}

TEST(PadCommand, WritesAndDrawsTheStepsOfASwitch) {
  const Scratch scratch;
  const std::vector<std::string> on_five{"pad",      demo("two-way-armature.csv"),
                                         "--source", demo("bare-output.chain.toml"),
                                         "--steps",  "0,6"};
  const std::string all = (scratch / "switch.chain.toml").string();
  const auto drawing = scratch / "switch.svg", one = scratch / "one.chain.toml",
             pad = scratch / "pad.svg";
  const auto ladder =
      run(with(on_five, {"--write", all, "--draw", drawing.string(), "--json"})).json()["ladder"];
  EXPECT_NE(contents(drawing).find("6 dB"), std::string::npos);
  EXPECT_EQ(
      run(with(on_five, {"--step", "6", "--write", one.string(), "--draw", pad.string()})).status,
      0);
  EXPECT_TRUE(std::filesystem::exists(pad));
  EXPECT_TRUE(std::filesystem::exists(scratch / "switch-0-db.chain.toml"));
  for (const auto& file : {scratch / "switch-6-db.chain.toml", one}) {
    const auto deviation = run({"deviation", demo("two-way-armature.csv"), "--from",
                                demo("bare-output.chain.toml"), "--to", file.string(), "--json"})
                               .json();
    EXPECT_NEAR(deviation["cases"][0]["span_db"].get<double>(),
                ladder["steps"][1]["span_db"].get<double>(), 1e-9);
  }
  expect_refused(run(with(on_five, {"--step", "7", "--write", all})), "not one of the steps");
}

TEST(PadCommand, TakesASourceAsItIsPrinted) {
  auto args = pad_on_demo;
  for (const char* text : {"0.3 ohm", "0.3 ohms", "0.3 Ω", "0.3Ω"}) {
    args[3] = text;
    EXPECT_EQ(run(args).out, run(pad_on_demo).out) << text;
  }
}

TEST(PadCommand, WritesNumbersAsPeopleDo) {
  const Ran ran = run({"pad", demo("five-armature.csv"), "--source", "0.3", "--attenuation", "60"});
  EXPECT_EQ(ran.out.find("e+0"), std::string::npos) << ran.out;
  EXPECT_NE(ran.out.find(" shown (--json"), std::string::npos) << ran.out;
  const Ran ideal = run({"pad", demo("two-way-armature.csv"), "--ideal", "--rated", "16",
                         "--attenuation", "10", "--topology", "T"});
  EXPECT_NE(ideal.out.find("8.3119  "), std::string::npos) << ideal.out;
  const Scratch scratch;
  const auto table = scratch / "pads.csv";
  run(with(pad_on_demo, {"--csv", table.string()}));
  EXPECT_EQ(csv_rows(table).front().at("topology"), "\"L\"");
}

TEST(PadCommand, ChecksLimitsAndTheAmplifiersCurrent) {
  const Ran none = run(with(pad_on_demo, {"--limit-span-db", "0.001"}));
  EXPECT_EQ(none.status, 1);
  EXPECT_NE(none.out.find("No pad keeps the limits"), std::string::npos);
  EXPECT_NE(none.out.find("exceeds: span 0."), std::string::npos) << none.out;
  const auto nearest = run(with(pad_on_demo, {"--limit-span-db", "0.001", "--json"})).json();
  EXPECT_NEAR(nearest["nearest"]["attenuation_db"].get<double>(), 10, 0.5);
  EXPECT_EQ(nearest["limits_exceeded"].size(), 1u);
  EXPECT_EQ(run({"pad", demo("two-way-armature.csv"), "--topology", "L", "--values", "18,9.1",
                 "--limit-output-ohm", "3"})
                .status,
            1);
  const Scratch scratch;
  const auto weak = scratch.write("weak.chain.toml",
                                  "title = \"weak\"\n[source]\noutput_ohm = 0.3\nopen_volt = 2\n"
                                  "max_ampere = 0.05\n");
  const Ran ran = run({"pad", demo("two-way-armature.csv"), "--source", weak.string(), "--topology",
                       "L", "--values", "18,9.1"});
  EXPECT_NE(ran.err.find("the amplifier would give"), std::string::npos) << ran.err;
}

// The same pad given by its values: every figure of it, and those of the draws above all.
TEST(PadCommand, GivesTheNearestTheFiguresItHasAsAGivenPad) {
  for (const char* samples : {"4000", "500"}) {
    const auto near =
        run(with(pad_on_demo, {"--limit-span-db", "0.001", "--samples", samples, "--json"}))
            .json()["nearest"];
    std::string values;
    for (const auto& ohm : near["values_ohm"]) values += (values.empty() ? "" : ",") + ohm.dump();
    const auto given =
        run(with(pad_on_demo, {"--values", values, "--samples", samples, "--json"})).json();
    EXPECT_EQ(near, given["candidates"][0]) << samples;
  }
}

TEST(PadCommand, RefusesClumsyUse) {
  const std::string earphone = demo("two-way-armature.csv");
  expect_refused(run({"pad", earphone}), "no attenuation");
  expect_refused(run({"pad", earphone, "--attenuation", "-3"}), "--attenuation -3");
  expect_refused(run(with(pad_on_demo, {"--series", "E25"})), "E25");
  expect_refused(run(with(pad_on_demo, {"--range", "100-1"})), "--range");
  expect_refused(run({"pad", earphone, "--values", "18,9.1"}), "one topology");
  expect_refused(run({"pad", earphone, "--topology", "L", "--values", "18"}), "--values");
  expect_refused(run({"pad", earphone, "--topology", "L", "--values", "18,x"}), "\"x\"");
  expect_refused(run({"pad", earphone, "--topology", "M", "--attenuation", "3"}), "\"M\"");
  expect_refused(run(with(pad_on_demo, {"--rated"})), "rated resistance");
  expect_refused(run(with(pad_on_demo, {"--samples", "3"})), "--samples 3");
  expect_refused(run(with(pad_on_demo, {"--volt", "0"})), "--volt 0");
  expect_refused(run(with(pad_on_demo, {"--tolerance", "100"})), "tolerance of 100");
}

// A search, a given pad, a matched one and a switch alike.
TEST(PadCommand, RefusesLimitsThatAreNone) {
  const std::string earphone = demo("two-way-armature.csv");
  for (const auto& asked : std::vector<std::vector<std::string>>{
           pad_on_demo,
           {"pad", earphone, "--topology", "L", "--values", "18,9.1"},
           {"pad", earphone, "--topology", "T", "--ideal", "--rated", "32", "--attenuation", "10"},
           {"pad", earphone, "--steps", "0,6"}}) {
    for (const char* limit : {"--limit-span-db", "--limit-output-ohm", "--limit-input-ohm",
                              "--limit-dissipation-milliwatt", "--limit-noise-volt"})
      for (const std::string value : {"nan", "-1", "0", "inf"})
        expect_refused(run(with(asked, {limit, value})), "; give a number above 0");
    expect_refused(run(with(asked, {"--limit-parts", "0"})), "--limit-parts 0 is not allowed");
  }
}

TEST(PadCommand, DrawsTradeOffAndSchematic) {
  const Scratch scratch;
  const std::string figure = (scratch / "pads.svg").string();
  const std::string drawing = (scratch / "pad.svg").string();
  EXPECT_EQ(run(with(pad_on_demo, {"--plot", figure, "--draw", drawing})).status, 0);
  EXPECT_NE(contents(figure).find("Largest current"), std::string::npos);
  EXPECT_NE(contents(drawing).find("<svg"), std::string::npos);
}

TEST(PadCommand, SaysTheSameTwice) {
  EXPECT_EQ(run(with(pad_on_demo, {"--json"})).out, run(with(pad_on_demo, {"--json"})).out);
}

}  // namespace
}  // namespace ohmtilt::test
