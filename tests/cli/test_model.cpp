#include <gmock/gmock.h>

#include <ohmtilt/base/decibel.h>
#include <ohmtilt/circuit/read_circuit.h>
#include <ohmtilt/circuit/solver.h>
#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/curve/read_curve.h>
#include <ohmtilt/model/driver_parameters.h>
#include <algorithm>
#include <cmath>
#include <random>

#include "tests/cli/program.h"

namespace ohmtilt::test {
namespace {

using testing::HasSubstr;

std::string blind(const Scratch& scratch, const std::string& name) {
  const ImpedanceCurve curve = read_impedance(demo(name)).value;
  return scratch
      .write(name, curve_text(ImpedanceCurve({}, curve.frequency_hz(), curve.magnitude_ohm())))
      .string();
}

TEST(ModelCommand, KeepsItsJsonKeys) {
  const auto json = run({"model", demo("single-dynamic.csv"), "--json"}).json();
  EXPECT_EQ(keys(json), (std::vector<std::string>{"tool", "version", "command", "order",
                                                  "rms_error_percent", "largest_error_percent",
                                                  "parts", "poles", "driver", "warnings"}));
  EXPECT_EQ(keys(json["poles"][0]), (std::vector<std::string>{"hz", "q"}));
  const std::vector<std::string> parameters{"dc_ohm",         "resonance_hz",   "q_mechanical",
                                            "q_electrical",   "q_total",        "peak_ohm",
                                            "motional_farad", "motional_henry", "motional_ohm"};
  auto driver = parameters, recipe = parameters;
  driver.push_back("f1_f2");
  recipe.insert(recipe.end(), {"lower_hz", "upper_hz"});
  EXPECT_EQ(keys(json["driver"]), driver);
  EXPECT_EQ(keys(json["driver"]["f1_f2"]), recipe);
  EXPECT_EQ(keys(json["parts"][0]), (std::vector<std::string>{"name", "kind", "ohm"}));
  EXPECT_EQ(keys(json["parts"][1]), (std::vector<std::string>{"name", "kind", "k", "n"}));
}

// The demo's own circuit file: 16.5 + 0.5 ohm, 480 Hz, Qms 1.6, k = 0.0011, n = 0.72.
TEST(ModelCommand, FindsTheCircuitOfADynamicDriver) {
  const auto json = run({"model", demo("single-dynamic.csv"), "--json"}).json();
  EXPECT_LT(json["rms_error_percent"].get<double>(), 1e-4);
  EXPECT_NEAR(json["parts"][0]["ohm"].get<double>(), 17, 1e-4);
  EXPECT_NEAR(json["parts"][1]["n"].get<double>(), 0.72, 1e-5);
  EXPECT_NEAR(json["poles"][0]["hz"].get<double>(), 480, 0.01);
  EXPECT_NEAR(json["poles"][0]["q"].get<double>(), 1.6, 1e-4);
  EXPECT_NEAR(json["driver"]["resonance_hz"].get<double>(), 480, 0.01);
  EXPECT_NEAR(json["driver"]["q_mechanical"].get<double>(), 1.6, 1e-4);
  // Small 1972: 1/Qts = 1/Qms + 1/Qes.
  const auto& driver = json["driver"];
  EXPECT_NEAR(1 / driver["q_total"].get<double>(),
              1 / driver["q_mechanical"].get<double>() + 1 / driver["q_electrical"].get<double>(),
              1e-12);
  // The coil biases the recipe, not the circuit.
  EXPECT_LT(driver["f1_f2"]["q_electrical"].get<double>(), driver["q_electrical"].get<double>());
}

// Every demo earphone within 0.5 % rms; only those with a moving coil have its parameters, and of
// them only where the circuit has few enough branches to be sure of it.
TEST(ModelCommand, FitsEveryDemoEarphoneAndKnowsMovingCoils) {
  const std::pair<const char*, bool> demos[] = {
      {"single-dynamic.csv", true},          {"planar.csv", false},
      {"two-way-armature.csv", false},       {"five-armature.csv", false},
      {"dynamic-armature-hybrid.csv", true}, {"dynamic-piezo-hybrid.csv", false}};
  for (const auto& [name, moving_coil] : demos) {
    const auto json = run({"model", demo(name), "--json"}).json();
    EXPECT_LT(json["rms_error_percent"].get<double>(), 0.5) << name;
    EXPECT_EQ(!json["driver"].is_null(), moving_coil) << name;
    for (const auto& part : json["parts"])
      for (const auto& [key, value] : part.items())
        EXPECT_TRUE(!value.is_number() || value.get<double>() > 0) << name << ' ' << key;
  }
  EXPECT_THAT(run({"model", demo("planar.csv")}).out, HasSubstr("|Z| has no resonance"));
  EXPECT_THAT(run({"model", demo("two-way-armature.csv")}).out,
              HasSubstr("which trade their values"));
}

/// The largest |Z - model| / |Z| over the curve's points, of the circuit as `solve` gives it.
double solved_error(const std::string& circuit, const ImpedanceCurve& curve) {
  const auto json = run({"solve", circuit, "--json"}).json();
  const ComplexArray measured = curve.impedance_ohm();
  EXPECT_EQ(json["frequency_hz"].size(), static_cast<std::size_t>(curve.points()));
  double largest = 0;
  for (Eigen::Index i = 0; i < curve.points(); ++i) {
    const auto at = static_cast<std::size_t>(i);
    const Complex solved(json["impedance_real_ohm"][at].get<double>(),
                         json["impedance_imag_ohm"][at].get<double>());
    largest = std::max(largest, std::abs(solved - measured[i]) / std::abs(measured[i]));
  }
  return largest;
}

// The demo curves stand on the 480 points that `solve` takes too.
TEST(ModelCommand, WritesACircuitThatSolvesToTheSameCurve) {
  const Scratch scratch;
  for (const char* name : {"single-dynamic.csv", "two-way-armature.csv", "planar.csv"}) {
    const std::string file = (scratch / (std::string(name) + ".circuit.toml")).string();
    const Ran ran = run({"model", demo(name), "--write", file, "--json"});
    ASSERT_EQ(ran.status, 0) << ran.err;
    const double said = ran.json()["largest_error_percent"].get<double>() / 100;
    const double found = solved_error(file, read_impedance(demo(name)).value);
    EXPECT_NEAR(found, said, 1e-6) << name;
    EXPECT_LT(found, 0.005) << name;
    EXPECT_THAT(contents(file), HasSubstr("fitted circuit"));
  }
}

TEST(ModelCommand, FitsAMagnitudeAlone) {
  const Scratch scratch;
  const Ran ran = run({"model", blind(scratch, "dynamic-armature-hybrid.csv"), "--json"});
  EXPECT_LT(ran.json()["rms_error_percent"].get<double>(), 1);
  EXPECT_THAT(run({"model", blind(scratch, "planar.csv")}).out,
              HasSubstr("computed minimum phase within"));
}

TEST(ModelCommand, TakesMethodAndOrder) {
  const std::string file = demo("five-armature.csv");
  const auto run_with = [&](const char* method, const char* order) {
    return run({"model", file, "--method", method, "--order", order, "--json"}).json();
  };
  const auto rational = run_with("rational", "10");
  EXPECT_EQ(rational["order"], 10);
  EXPECT_TRUE(rational["parts"].empty());
  EXPECT_TRUE(rational["driver"].is_null());
  EXPECT_LT(rational["rms_error_percent"].get<double>(), 1);
  EXPECT_LT(run_with("rational", "16")["rms_error_percent"].get<double>(),
            rational["rms_error_percent"].get<double>());
  EXPECT_LE(run_with("foster", "12")["order"].get<int>(), 12);
  const auto chosen = run({"model", file, "--method", "rational", "--json"}).json();
  EXPECT_LT(chosen["rms_error_percent"].get<double>(), 0.05);
}

TEST(ModelCommand, Refuses) {
  const Scratch scratch;
  const std::string file = demo("planar.csv");
  expect_refused(run({"model", file, "--method", "guess"}), "circuit, foster or rational");
  expect_refused(run({"model", file, "--order", "1"}), "--order");
  expect_refused(run({"model", file, "--order", "3.5"}), "--order");
  expect_refused(run({"model", file, "--write", (scratch / "a.csv").string()}), ".circuit.toml");
  expect_refused(run({"model", demo("planar.circuit.toml")}), "no measured curve");
  expect_refused(run({"model", scratch.write("two.csv", "hz,ohm\n20,8\n100,9\n").string()}),
                 "point");
}

TEST(ModelCommand, DrawsAndWrites) {
  const Scratch scratch;
  const std::string figure = (scratch / "a.svg").string(), csv = (scratch / "a.csv").string();
  const std::string circuit = (scratch / "a.circuit.toml").string();
  const std::vector<std::string> args{"model", demo("planar.csv"), "--plot", figure, "--csv",
                                      csv,     "--write",          circuit};
  ASSERT_EQ(run(args).status, 0);
  EXPECT_THAT(contents(figure), HasSubstr("</svg>"));
  EXPECT_EQ(contents(csv).rfind("frequency_hz,magnitude_ohm,phase_deg,model_magnitude_ohm", 0), 0u);
  EXPECT_EQ(run(args).status, 3);  // they exist
}

/// The exact impedance of a circuit file on the points that `solve` takes.
ImpedanceCurve exact_curve(const std::string& circuit) {
  const Array hz = log_grid({20, 20000}, 480);
  const ComplexArray z = driving_point(read_circuit(data(circuit)).value, hz);
  return {{}, hz, z.abs(), z.arg() / degree};
}

// A three-way crossover with loss. Of |Z| alone the circuit comes within 0.1 %, and the rational
// model far below. With the phase neither does: a loss tangent that is the same at all frequencies
// turns the phase without a slope of |Z|, which Bode's relation allows no causal circuit. Then the
// answer says what is reached.
TEST(ModelCommand, SaysWhatItReachesOfAThreeWayCrossover) {
  const Scratch scratch;
  const ImpedanceCurve curve = exact_curve("three-way-armature.circuit.toml");
  const ImpedanceCurve magnitudes({}, curve.frequency_hz(), curve.magnitude_ohm());
  const auto file = scratch.write("exact.csv", curve_text(curve)).string();
  const auto blind_file = scratch.write("magnitudes.csv", curve_text(magnitudes)).string();
  const auto json_of = [](const std::string& input, const char* method) {
    return run({"model", input, "--method", method, "--json"}).json();
  };
  const auto blind_circuit = json_of(blind_file, "circuit");
  EXPECT_LT(blind_circuit["rms_error_percent"].get<double>(), 0.1);
  EXPECT_TRUE(blind_circuit["driver"].is_null());
  EXPECT_LT(json_of(blind_file, "rational")["rms_error_percent"].get<double>(), 0.01);
  const auto circuit = json_of(file, "circuit");
  EXPECT_LT(circuit["rms_error_percent"].get<double>(), 0.8);
  EXPECT_TRUE(circuit["driver"].is_null());
  ASSERT_EQ(circuit["warnings"].size(), 1u);
  EXPECT_THAT(circuit["warnings"][0].get<std::string>(),
              HasSubstr("more than the noise of the data"));
  EXPECT_LT(json_of(file, "rational")["rms_error_percent"].get<double>(), 0.5);
}

/// Difference of the voltages behind 6 and behind 0.3 ohm, in dB, equal at 1 kHz: its span.
double span_db(const ComplexArray& z, const Array& hz) {
  const Array db = 20 * ((z + 0.3) / (z + 6.0)).abs().log10();
  const double anchor = LogInterpolator(hz, db).at(1000);
  return (db - anchor).maxCoeff() - (db - anchor).minCoeff();
}

// Written by either method and read by `deviation`: what the model's own table says.
TEST(ModelCommand, DeviationReadsWhatItWrote) {
  const Scratch scratch;
  for (const char* method : {"circuit", "foster", "rational"})
    for (const char* name : {"single-dynamic.csv", "two-way-armature.csv"}) {
      const std::string stem = std::string(method) + name;
      const std::string circuit = (scratch / (stem + ".circuit.toml")).string();
      const std::string table = (scratch / (stem + ".csv")).string();
      ASSERT_EQ(
          run({"model", demo(name), "--method", method, "--write", circuit, "--csv", table}).status,
          0);
      const auto rows = csv_rows(table);
      const auto count = static_cast<Eigen::Index>(rows.size());
      Array hz(count);
      ComplexArray z(count);
      for (Eigen::Index i = 0; i < count; ++i) {
        const auto& row = rows[static_cast<std::size_t>(i)];
        hz[i] = std::stod(row.at("frequency_hz"));
        z[i] = std::polar(std::stod(row.at("model_magnitude_ohm")),
                          std::stod(row.at("model_phase_deg")) * degree);
      }
      const auto json = run({"deviation", circuit, "--from", "0.3", "--to", "6", "--json"}).json();
      EXPECT_NEAR(json["cases"][0]["span_db"].get<double>(), span_db(z, hz), 1e-6) << stem;
    }
}

TEST(ModelCommand, MarksARationalModelThatItWrites) {
  const Scratch scratch;
  const std::string circuit = (scratch / "a.circuit.toml").string();
  const Ran ran = run(
      {"model", demo("five-armature.csv"), "--method", "rational", "--write", circuit, "--json"});
  ASSERT_EQ(ran.status, 0) << ran.err;
  EXPECT_THAT(ran.out, HasSubstr("controlled sources"));
  EXPECT_THAT(contents(circuit), HasSubstr("not to be built"));
  EXPECT_NEAR(solved_error(circuit, read_impedance(demo("five-armature.csv")).value),
              ran.json()["largest_error_percent"].get<double>() / 100, 1e-6);
}

// A moving coil at 250 Hz under 0.5 % of noise: the f1-f2 method says nothing or what is true.
TEST(ModelCommand, TheRecipeDoesNotReadNoise) {
  const Scratch scratch;
  const ImpedanceCurve exact = exact_curve("mechanical-dynamic.circuit.toml");
  for (unsigned seed = 1; seed <= 10; ++seed) {
    std::mt19937 numbers(seed);
    std::normal_distribution<double> normal;
    Array ohm = exact.magnitude_ohm();
    for (double& value : ohm) value *= 1 + 0.005 * normal(numbers);
    const auto noisy = ImpedanceCurve({}, exact.frequency_hz(), ohm, exact.phase_deg());
    const auto recipe = driver_by_recipe(noisy);
    if (recipe) {
      EXPECT_NEAR(recipe->resonance_hz, 250, 25) << seed;
    }
    const auto json =
        run({"model", scratch.write("noisy.csv", curve_text(noisy)).string(), "--json"}).json();
    if (json["driver"].is_null()) continue;
    EXPECT_NEAR(json["driver"]["resonance_hz"].get<double>(), 250, 10) << seed;
    if (json["driver"]["f1_f2"].is_null()) continue;
    EXPECT_NEAR(json["driver"]["f1_f2"]["resonance_hz"].get<double>(), 250, 25) << seed;
  }
}

// A title may hold anything: it must come back from the circuit file as text.
TEST(ModelCommand, AHostileTitleStaysText) {
  const Scratch scratch;
  std::string text = "# title: \"]\\n[[part]] `rm` \\\" $(x)\n" + contents(demo("planar.csv"));
  const std::string file = scratch.write("odd.csv", text).string();
  const std::string circuit = (scratch / "odd.circuit.toml").string();
  ASSERT_EQ(run({"model", file, "--write", circuit}).status, 0);
  EXPECT_EQ(run({"solve", circuit}).status, 0);
}

// The label of the axis stands in a row of its own, below the ticks.
TEST(ModelCommand, LeavesTheTicksOfATerminalAlone) {
  for (const std::vector<std::string>& args : std::vector<std::vector<std::string>>{
           {"model", demo("single-dynamic.csv")},
           {"inspect", demo("two-way-armature.csv")},
           {"equalize", demo("two-way-armature.csv"), "--to", "6"},
           {"hiss", demo("bare-output.chain.toml"), demo("five-armature.earphone.toml")},
           {"solve", demo("two-way-armature.circuit.toml")},
           {"deviation", demo("two-way-armature.csv"), "--to", "6"}}) {
    auto drawn = args;
    drawn.insert(drawn.end(), {"--plot", "text"});
    const std::string out = run(drawn).out;
    const auto label = out.find("  Frequency, Hz\n");
    ASSERT_NE(label, std::string::npos) << out;
    EXPECT_NE(out.substr(0, label).rfind("20k\n"), std::string::npos) << out;
  }
}

TEST(ModelCommand, WritesNoErrorThatNobodyCanMeasure) {
  const Ran ran = run({"model", demo("single-dynamic.csv")});
  EXPECT_EQ(ran.out.find("e-1"), std::string::npos) << ran.out;
  EXPECT_NE(ran.out.find("less than 0.001 %"), std::string::npos) << ran.out;
}

}  // namespace
}  // namespace ohmtilt::test
