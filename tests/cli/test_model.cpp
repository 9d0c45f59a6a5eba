#include <gmock/gmock.h>

#include <ohmtilt/curve/read_curve.h>
#include <cmath>

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
  driver.push_back("recipe");
  recipe.insert(recipe.end(), {"lower_hz", "upper_hz"});
  EXPECT_EQ(keys(json["driver"]), driver);
  EXPECT_EQ(keys(json["driver"]["recipe"]), recipe);
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
  EXPECT_LT(driver["recipe"]["q_electrical"].get<double>(), driver["q_electrical"].get<double>());
}

// Every demo earphone within 0.5 % rms; only those with a moving coil have its parameters.
TEST(ModelCommand, FitsEveryDemoEarphoneAndKnowsMovingCoils) {
  const std::pair<const char*, bool> demos[] = {
      {"single-dynamic.csv", true},          {"planar.csv", false},
      {"two-way-armature.csv", false},       {"five-armature.csv", false},
      {"dynamic-armature-hybrid.csv", true}, {"dynamic-piezo-hybrid.csv", true}};
  for (const auto& [name, moving_coil] : demos) {
    const auto json = run({"model", demo(name), "--json"}).json();
    EXPECT_LT(json["rms_error_percent"].get<double>(), 0.5) << name;
    EXPECT_EQ(!json["driver"].is_null(), moving_coil) << name;
    for (const auto& part : json["parts"])
      for (const auto& [key, value] : part.items())
        EXPECT_TRUE(!value.is_number() || value.get<double>() > 0) << name << ' ' << key;
  }
  EXPECT_THAT(run({"model", demo("planar.csv")}).out, HasSubstr("has no resonance"));
  EXPECT_THAT(run({"model", demo("two-way-armature.csv")}).out,
              HasSubstr("too much for a moving coil"));
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
  EXPECT_THAT(run({"model", blind(scratch, "planar.csv")}).out, HasSubstr("no phase to compare"));
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
  expect_refused(run({"model", file, "--method", "rational", "--write", "a.circuit.toml"}),
                 "no parts");
  expect_refused(run({"model", blind(scratch, "planar.csv"), "--method", "rational"}), "phase");
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
