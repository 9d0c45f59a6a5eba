#include <cmath>

#include "tests/cli/program.h"

namespace ohmtilt::test {
namespace {

const char* const divider = R"(title = "Divider"
reference = "0"
[ports]
in = ["a", "0"]
out = ["b", "0"]
[[part]]
name = "top"
kind = "resistor"
nodes = ["a", "b"]
ohm = 90.9
tolerance_percent = 1
[[part]]
name = "bottom"
kind = "resistor"
nodes = ["b", "0"]
ohm = 10
tolerance_percent = 1
)";

const std::string armature = demo("two-way-armature.circuit.toml");

TEST(SolveCommand, KeepsItsJsonKeys) {
  const auto json = run({"solve", armature, "--json"}).json();
  EXPECT_EQ(keys(json), (std::vector<std::string>{
                            "tool", "version", "command", "title", "port", "drive",
                            "temperature_kelvin", "frequency_hz", "impedance_real_ohm",
                            "impedance_imag_ohm", "transfer", "noise_volt_per_root_hz",
                            "noise_volt", "noise_a_weighted_volt", "sensitivity", "warnings"}));
  EXPECT_EQ(keys(json["sensitivity"][0]),
            (std::vector<std::string>{"part", "quantity", "peak", "hz"}));
  for (const char* array :
       {"frequency_hz", "impedance_real_ohm", "impedance_imag_ohm", "noise_volt_per_root_hz"})
    EXPECT_EQ(json[array].size(), 480u) << array;
  EXPECT_TRUE(json["transfer"].empty());
  EXPECT_EQ(json["temperature_kelvin"], 293.15);
}

TEST(SolveCommand, AnswersInText) {
  const Ran ran = run({"solve", armature});
  EXPECT_EQ(ran.status, 0);
  EXPECT_EQ(ran.err, "");
  for (const char* part : {"lowest |Z|", "highest |Z|", "thermal noise", "What matters most"})
    EXPECT_NE(ran.out.find(part), std::string::npos) << part << "\n" << ran.out;
}

// A divider 90.9 over 10: 20 lg(10/100.9) = -20.07782 dB (NumPy); sensitivity of |Z| at its input
// by hand: 90.9/100.9 of the upper resistor. Noise at the output: sqrt(4 k T (90.9 || 10
// shorted: 9.0089)).
TEST(SolveCommand, SolvesADivider) {
  const Scratch scratch;
  const std::string file = scratch.write("divider.circuit.toml", divider).string();
  const auto json = run({"solve", file, "--json", "--points", "3", "--band", "0.1-1e6"}).json();
  EXPECT_EQ(json["port"], "in");
  EXPECT_EQ(json["drive"], "in");
  EXPECT_NEAR(json["impedance_real_ohm"][1].get<double>(), 100.9, 1e-9);
  EXPECT_NEAR(json["transfer"]["out"]["magnitude_db"][0].get<double>(), -20.07782, 5e-6);
  EXPECT_NEAR(json["transfer"]["out"]["phase_deg"][0].get<double>(), 0, 1e-9);
  EXPECT_EQ(json["sensitivity"][0]["part"], "top");
  EXPECT_EQ(json["sensitivity"][0]["quantity"], "ohm");
  EXPECT_NEAR(json["sensitivity"][0]["peak"].get<double>(), 90.9 / 100.9, 1e-9);
  const auto out =
      run({"solve", file, "--json", "--port", "out", "--temperature-kelvin", "290"}).json();
  EXPECT_NEAR(out["noise_volt_per_root_hz"][0].get<double>(),
              std::sqrt(4 * 1.380649e-23 * 290 * 10), 1e-15);
}

TEST(SolveCommand, DrivesAnyPortOrTheSourcesOfTheCircuit) {
  const Scratch scratch;
  const std::string file = scratch.write("divider.circuit.toml", divider).string();
  const auto back = run({"solve", file, "--json", "--drive", "out"}).json();
  EXPECT_NEAR(back["transfer"]["in"]["magnitude_db"][0].get<double>(), 0, 1e-9);  // open: all of it
  expect_refused(run({"solve", file, "--drive", "none"}), "no source");
  expect_refused(run({"solve", file, "--drive", "sideways"}), "sideways");
  expect_refused(run({"solve", file, "--port", "sideways"}), "sideways");
  const auto chain = run({"solve", demo("attenuator-engaged.chain.toml"), "--json"}).json();
  EXPECT_TRUE(chain["drive"].is_null());
  EXPECT_EQ(chain["port"], "earphone");
  // 18.3 ohm parallel to 9.1 ohm, and 9.1/27.4 of the voltage.
  EXPECT_NEAR(chain["impedance_real_ohm"][0].get<double>(), 18.3 * 9.1 / 27.4, 1e-9);
  EXPECT_NEAR(chain["transfer"]["earphone"]["magnitude_db"][0].get<double>(),
              20 * std::log10(9.1 / 27.4), 1e-9);
}

TEST(SolveCommand, AddsTolerances) {
  const Scratch scratch;
  const std::string file = scratch.write("divider.circuit.toml", divider).string();
  const std::vector<std::string> args{"solve", file, "--points", "4", "--tolerance", "--json"};
  const Ran ran = run(args);
  const auto tolerance = ran.json()["tolerance"];
  EXPECT_EQ(keys(tolerance), (std::vector<std::string>{"samples", "seed", "p05_ohm", "p50_ohm",
                                                       "p95_ohm", "all_corners", "inside_further",
                                                       "lowest_ohm", "highest_ohm", "transfer"}));
  EXPECT_EQ(keys(tolerance["transfer"]["out"]),
            (std::vector<std::string>{"p05_db", "p50_db", "p95_db", "lowest_db", "highest_db"}));
  EXPECT_EQ(tolerance["samples"], 10000);
  EXPECT_EQ(tolerance["seed"], 1);
  EXPECT_NEAR(tolerance["highest_ohm"][0].get<double>(), 101.909, 1e-9);
  EXPECT_LT(tolerance["p95_ohm"][0].get<double>(), 101.909);
  EXPECT_GT(tolerance["p95_ohm"][0].get<double>(), tolerance["p50_ohm"][0].get<double>());
  EXPECT_EQ(tolerance["transfer"]["out"]["p05_db"].size(), 4u);
  EXPECT_EQ(run(args).out, ran.out);  // byte for byte
  expect_refused(run({"solve", file, "--samples", "3"}), "--samples");
  expect_refused(run({"solve", file, "--seed", "-1"}), "--seed");
  expect_refused(run({"solve", file, "--distribution", "flat"}), "uniform or normal");
}

// By hand: the ends of 1 % move 10/100.9 by -0.1567 dB and +0.1564 dB
TEST(SolveCommand, SaysTheWorstCornersOfEveryPort) {
  const Scratch scratch;
  const std::string file = scratch.write("divider.circuit.toml", divider).string();
  const std::string csv = (scratch / "a.csv").string();
  const Ran ran = run({"solve", file, "--points", "2", "--tolerance", "--json", "--csv", csv});
  const auto out = ran.json()["tolerance"]["transfer"]["out"];
  const double nominal = 20 * std::log10(10 / 100.9);
  EXPECT_NEAR(out["lowest_db"][0].get<double>(), 20 * std::log10(9.9 / (9.9 + 91.809)), 1e-9);
  EXPECT_NEAR(out["highest_db"][1].get<double>(), 20 * std::log10(10.1 / (10.1 + 89.991)), 1e-9);
  EXPECT_NEAR(out["lowest_db"][0].get<double>() - nominal, -0.1567, 5e-5);
  const std::string head = contents(csv).substr(0, contents(csv).find('\n'));
  for (const char* column : {"magnitude_db_out", "phase_deg_out", "p95_db_out", "highest_db_out"})
    EXPECT_NE(head.find(column), std::string::npos) << head;
  const Ran text = run({"solve", file, "--tolerance"});
  EXPECT_NE(text.out.find("the voltage of out by -0.16 dB to +0.16 dB"), std::string::npos)
      << text.out;
}

// sqrt(4 k T R B): 10 kohm at 290 K over 19980 Hz is 1.789 uV. Weighted with A it is what NumPy
// makes of the closed form of IEC 61672-1 annex E over 1e6 points: 12467.18 Hz in place of 19980.
TEST(SolveCommand, IntegratesNoiseFlatAndWeighted) {
  const Scratch scratch;
  std::string circuit = divider;
  circuit.replace(circuit.find("ohm = 90.9"), 10, "ohm = 1e12");
  circuit.replace(circuit.find("ohm = 10\n"), 8, "ohm = 1e4");
  circuit.erase(0, circuit.find('\n') + 1);
  const std::string file = scratch.write("ten-kilohm.circuit.toml", circuit).string();
  const auto json =
      run({"solve", file, "--port", "out", "--temperature-kelvin", "290", "--json"}).json();
  const double density = std::sqrt(4 * 1.380649e-23 * 290 * 1e4);
  EXPECT_NEAR(json["noise_volt"].get<double>() / (density * std::sqrt(19980)), 1, 2e-5);
  EXPECT_NEAR(json["noise_a_weighted_volt"].get<double>() / (density * std::sqrt(12467.18)), 1,
              2e-5);
  EXPECT_EQ(json["title"], "ten-kilohm");
}

TEST(SolveCommand, SaysMegahertz) {
  const Ran ran = run({"solve", armature, "--band", "100-1e6"});
  EXPECT_NE(ran.out.find("100 Hz to 1 MHz"), std::string::npos) << ran.out;
}

TEST(SolveCommand, WritesCurvesAndTwoPorts) {
  const Scratch scratch;
  const std::string file = scratch.write("divider.circuit.toml", divider).string();
  for (const char* name : {"z.csv", "z.s1p"}) {
    const std::string written = (scratch / name).string();
    EXPECT_EQ(run({"solve", file, "--write", written}).status, 0);
    const auto curve = run({"inspect", written, "--json"});
    EXPECT_EQ(curve.status, 0) << curve.err;
    EXPECT_NE(contents(written).find("title: Divider"), std::string::npos);
  }
  const std::string two = (scratch / "d.s2p").string();
  EXPECT_EQ(run({"solve", file, "--write", two}).status, 0);
  EXPECT_EQ(run({"solve", file, "--write", two, "--pair", "out,in", "--force"}).status, 0);
  EXPECT_NE(contents(two).find("# Hz S RI R 50"), std::string::npos);
  expect_refused(run({"solve", file, "--write", (scratch / "d.doc").string()}), ".s2p");
  expect_refused(run({"solve", file, "--pair", "in,out"}), "--write");
  expect_refused(run({"solve", file, "--write", two, "--force", "--pair", "in"}), "names one port");
  expect_refused(run({"solve", file, "--write", two, "--force", "--pair", "in,in"}), "named twice");
  expect_refused(run({"solve", armature, "--write", (scratch / "e.s2p").string()}), "--pair");
  expect_refused(
      run({"solve", demo("bare-output.chain.toml"), "--write", (scratch / "f.s2p").string()}),
      "has no stages");
  const std::string chain = (scratch / "three.s2p").string();
  const Ran cable = run({"solve", demo("three-wire-cable.chain.toml"), "--write", chain});
  EXPECT_NE(cable.err.find("crosstalk"), std::string::npos) << cable.err;
}

TEST(DeviationCommand, SaysWhereATwoPortEnds) {
  const Scratch scratch;
  scratch.write("half.s2p", "# Hz S RI R 50\n100 0 0 .5 0 .5 0 0 0\n9000 0 0 .5 0 .5 0 0 0\n");
  const std::string chain =
      scratch
          .write("half.chain.toml",
                 "[source]\noutput_ohm = 1\n[[stage]]\nkind = \"two-port\"\nfile = \"half.s2p\"\n")
          .string();
  const Ran ran = run({"deviation", demo("two-way-armature.csv"), "--to", chain});
  EXPECT_EQ(ran.status, 0);
  EXPECT_NE(ran.err.find("the data reach from 100 Hz to 9 kHz"), std::string::npos) << ran.err;
}

// By hand: 1 % more of 90.9 ohm is 90.9/100.9 % more of |Z|, and 10/101.809 comes through.
TEST(SolveCommand, SaysWhatOnePercentMoreChanges) {
  const Scratch scratch;
  const std::string file = scratch.write("divider.circuit.toml", divider).string();
  const std::string figure = (scratch / "a.svg").string(), csv = (scratch / "a.csv").string();
  const auto change = run({"solve", file, "--points", "2", "--sensitivity", "--json", "--plot",
                           figure, "--csv", csv})
                          .json()["changes"][0];
  EXPECT_EQ(keys(change),
            (std::vector<std::string>{"part", "quantity", "percent", "impedance_peak_percent",
                                      "peak_hz", "impedance_percent", "transfer_db"}));
  EXPECT_EQ(change["part"], "top");
  EXPECT_NEAR(change["impedance_peak_percent"].get<double>(), 90.9 / 100.9, 1e-9);
  EXPECT_NEAR(change["transfer_db"]["out"][0].get<double>(), 20 * std::log10(100.9 / 101.809),
              1e-9);
  EXPECT_NE(contents(csv).find("transfer_db_out_top.ohm"), std::string::npos);
  EXPECT_NE(contents(figure).find("Change of |Z| for 1 % more"), std::string::npos);
  const Ran text = run({"solve", file, "--sensitivity"});
  EXPECT_NE(text.out.find("top, ohm"), std::string::npos);
  EXPECT_NE(text.out.find("port out"), std::string::npos);
}

TEST(SolveCommand, RefusesWhatItCannotSolve) {
  const Scratch scratch;
  expect_refused(run({"solve", (scratch / "none.circuit.toml").string()}), "none.circuit.toml");
  expect_refused(run({"solve", armature, "--temperature-kelvin", "-3"}), "--temperature-kelvin -3");
  expect_refused(run({"solve", armature, "--band", "0-100"}), "--band");
  expect_refused(run({"solve", armature, "--draw", "x.svg"}), "only a chain");
  expect_refused(run({"solve", demo("attenuator-engaged.chain.toml"), "--draw", "x.doc"}), ".svg");
  expect_refused(run({"solve", demo("two-way-armature.csv")}), "two-way-armature.csv");
}

TEST(SolveCommand, DrawsAndWrites) {
  const Scratch scratch;
  const std::string figure = (scratch / "a.svg").string(), csv = (scratch / "a.csv").string();
  const std::string schematic = (scratch / "b.svg").string();
  EXPECT_EQ(run({"solve", armature, "--plot", figure, "--csv", csv}).status, 0);
  EXPECT_EQ(contents(csv).rfind("frequency_hz,impedance_real_ohm,impedance_imag_ohm", 0), 0u);
  EXPECT_NE(contents(figure).find("</svg>"), std::string::npos);
  const std::string chain = demo("attenuator-engaged.chain.toml");
  EXPECT_EQ(run({"solve", chain, "--draw", schematic}).status, 0);
  EXPECT_NE(contents(schematic).find("9.1 ohm"), std::string::npos);
  EXPECT_EQ(run({"solve", chain, "--draw", schematic}).status, 3);  // it exists
}

TEST(DeviationCommand, AddsTolerances) {
  const std::string chain = demo("attenuator-engaged.chain.toml");
  const Ran ran = run({"deviation", demo("two-way-armature.csv"), "--from", "0.3", "--to", chain,
                       "--to", "6", "--tolerance", "--samples", "2000", "--json"});
  const auto json = ran.json();
  const auto tolerance = json["cases"][0]["tolerance"];
  EXPECT_EQ(keys(tolerance), (std::vector<std::string>{"samples", "seed", "p05_db", "p50_db",
                                                       "p95_db", "channel_difference_db"}));
  EXPECT_EQ(tolerance["samples"], 2000);
  EXPECT_EQ(tolerance["channel_difference_db"].size(), 480u);
  EXPECT_TRUE(json["cases"][1]["tolerance"].is_null());
  const Ran text = run(
      {"deviation", demo("two-way-armature.csv"), "--from", "0.3", "--to", chain, "--tolerance"});
  EXPECT_NE(text.out.find("With the tolerances of the parts the span is"), std::string::npos);
  expect_refused(run({"deviation", demo("two-way-armature.csv"), "--to", "6", "--tolerance"}),
                 "no part has a tolerance");
  expect_refused(run({"deviation", demo("two-way-armature.csv"), "--to", "6", "--draw", "x.svg"}),
                 "none of the sources is a chain");
}

// Matched channels, the same unmatched, the worst case and its reach, and a warm room.
TEST(DeviationCommand, KnowsGroupsTemperatureAndTheWorstCase) {
  const Scratch scratch;
  const auto chain = [&](const std::string& lines) {
    return scratch
        .write("pad.chain.toml",
               "[source]\noutput_ohm = 0.3\n[[stage]]\nkind = \"pad\"\ntopology = \"L\"\n"
               "series_ohm = 18\nshunt_ohm = 9.1\n" +
                   lines)
        .string();
  };
  const auto asked = [&](const std::string& file, const std::vector<std::string>& more) {
    std::vector<std::string> args{"deviation",   demo("two-way-armature.csv"),
                                  "--from",      "0.3",
                                  "--to",        file,
                                  "--points",    "24",
                                  "--tolerance", "--samples",
                                  "2000"};
    args.insert(args.end(), more.begin(), more.end());
    return run(args);
  };
  const std::string reel = chain(
      "tolerance_percent = 5\ntolerance_group = \"reel\"\nmatching_percent = 0.5\n"
      "temperature_ppm_per_kelvin = 1000\nkelvin_per_watt = 300\n");
  const auto cold = asked(reel, {"--worst-case", "--json"}).json()["cases"][0]["tolerance"];
  EXPECT_EQ(cold["channel_difference_unmatched_db"].size(), 24u);
  EXPECT_LT(cold["channel_difference_db"][5].get<double>(),
            cold["channel_difference_unmatched_db"][5].get<double>());
  EXPECT_EQ(keys(cold["worst_case"]),
            (std::vector<std::string>{"lowest_db", "highest_db", "channel_difference_db",
                                      "all_corners", "inside_further"}));
  EXPECT_TRUE(cold["worst_case"]["all_corners"].get<bool>());
  EXPECT_LE(cold["worst_case"]["lowest_db"][0].get<double>(), cold["p05_db"][0].get<double>());
  const auto warm = asked(reel, {"--ambient", "-10-60", "--heating-volt", "2", "--json"});
  ASSERT_EQ(warm.status, 0) << warm.err;
  EXPECT_NE(warm.json()["cases"][0]["tolerance"]["p95_db"], cold["p95_db"]);
  const std::string text = asked(reel, {"--worst-case"}).out;
  EXPECT_NE(text.find("if their groups were not matched"), std::string::npos) << text;
  EXPECT_NE(text.find("over all corners"), std::string::npos) << text;
  expect_refused(asked(reel, {"--ambient", "300"}), "300");
  expect_refused(asked(chain("matching_percent = 1\n"), {}), "pad.chain.toml:8");
}

TEST(SolveCommand, SendsACurveElsewhere) {
  expect_refused(run({"solve", demo("two-way-armature.csv")}), "is a curve");
}

TEST(SolveCommand, TakesABandAsPeopleWriteIt) {
  const auto span = [](const char* band) {
    const auto json =
        run({"solve", demo("two-way-armature.circuit.toml"), "--band", band, "--json"}).json();
    return json["frequency_hz"].back().get<double>();
  };
  for (const char* band : {"20-20k", "20Hz-20kHz", "20 Hz-20 kHz"}) EXPECT_EQ(span(band), 20000);
  expect_refused(run({"solve", demo("two-way-armature.circuit.toml"), "--band", "20-20m"}),
                 "not a band");
}

}  // namespace
}  // namespace ohmtilt::test
