// Circuits as differential equations, against the nodal solver at real frequencies (which forms no
// pole anywhere) and against closed forms.
#include <ohmtilt/model/linear_system.h>
#include <ohmtilt/model/rational_circuit.h>

#include <random>

#include "tests/circuit/circuits.h"

namespace ohmtilt::test {
namespace {

RationalModel port_model(const Circuit& circuit) { return port_models(circuit).impedance; }

double error_against_solver(const Circuit& circuit) {
  const Array hz = audio_grid();
  return relative_error(evaluate(port_model(circuit), hz), driving_point(circuit, hz));
}

TEST(LinearSystem, SeriesCircuitHasASlopeAndAPoleAtZero) {
  const auto model =
      port_model(circuit_of({resistor("R", "in", "a", 5), inductor("L", "a", "b", 2e-3),
                             capacitor("C", "b", "0", 1e-6)}));
  EXPECT_NEAR(model.proportional, 2e-3, 1e-15);
  EXPECT_NEAR(model.constant, 5, 1e-12);
  ASSERT_EQ(model.order(), 1);
  EXPECT_EQ(model.real[0].pole, 0);
  EXPECT_NEAR(model.real[0].residue, 1e6, 1e-6);
}

TEST(LinearSystem, ParallelCircuitHasItsTextbookPoles) {
  // s^2 + s/(RC) + 1/(LC).
  const double r = 100, l = 1e-3, c = 1e-6;
  const auto model = port_model(circuit_of(
      {resistor("R", "in", "0", r), inductor("L", "in", "0", l), capacitor("C", "in", "0", c)}));
  ASSERT_EQ(model.pairs.size(), 1u);
  EXPECT_EQ(model.real.size(), 0u);
  EXPECT_EQ(model.constant, 0);
  const Complex pole = model.pairs[0].pole;
  EXPECT_NEAR(pole.real() * -2 * r * c, 1, 1e-12);
  EXPECT_NEAR(std::norm(pole) * l * c, 1, 1e-12);
}

TEST(LinearSystem, DependentStoresAreTakenOut) {
  // Two inductors in series through resistors, two capacitors in parallel with a third in series.
  const auto coils = circuit_of({inductor("L1", "in", "a", 1e-3), resistor("R1", "a", "b", 4),
                                 inductor("L2", "b", "c", 2e-3), resistor("R2", "c", "0", 8),
                                 capacitor("C", "c", "0", 1e-6)});
  EXPECT_LT(error_against_solver(coils), 1e-12);
  EXPECT_EQ(port_model(coils).order(), 1);
  EXPECT_NEAR(port_model(coils).proportional, 3e-3, 1e-14);
  const auto capacitors = circuit_of(
      {resistor("R", "in", "a", 10), capacitor("C1", "a", "0", 1e-6),
       capacitor("C2", "a", "0", 2e-6), capacitor("C3", "a", "b", 1e-6),
       capacitor("C4", "b", "0", 3e-6), resistor("R2", "b", "0", 50), resistor("R3", "a", "0", 9)});
  EXPECT_LT(error_against_solver(capacitors), 1e-12);
  EXPECT_EQ(port_model(capacitors).order(), 2);
}

TEST(LinearSystem, FourTerminalPartsAndControlledSources) {
  const auto circuit =
      circuit_of({resistor("R", "in", "a", 3),
                  named_part(PartKind::coupled_inductors, "T", {"a", "0", "b", "0"},
                             {{"henry", 2e-3}, {"second_henry", 5e-4}, {"coupling", 0.9}}),
                  resistor("R2", "b", "c", 2),
                  named_part(PartKind::gyrator, "G", {"c", "0", "d", "0"}, {{"ohm", 7}}),
                  inductor("L", "d", "0", 3e-3, 0.5), capacitor("C", "d", "e", 1e-5, 1),
                  named_part(PartKind::transformer, "N", {"e", "0", "f", "0"}, {{"ratio", 2.5}}),
                  resistor("R3", "f", "0", 6),
                  named_part(PartKind::voltage_controlled_current_source, "Y", {"d", "0", "a", "0"},
                             {{"siemens", 0.01}})});
  EXPECT_LT(error_against_solver(rational_circuit(circuit).circuit), 1e-11);
  const Array hz = audio_grid();
  EXPECT_LT(relative_error(driving_point(rational_circuit(circuit).circuit, hz),
                           driving_point(circuit, hz)),
            1e-12);
}

TEST(LinearSystem, PerfectCoupling) {
  const auto circuit =
      circuit_of({named_part(PartKind::coupled_inductors, "T", {"in", "0", "b", "0"},
                             {{"henry", 4e-3}, {"second_henry", 1e-3}, {"coupling", 1}}),
                  resistor("R", "b", "0", 2)});
  // An ideal 2 : 1 transformer with 4 mH across: 8 ohm beside s 4 mH.
  const ComplexArray s = s_of(audio_grid());
  const auto model = port_model(rational_circuit(circuit).circuit);
  EXPECT_LT(relative_error(evaluate(model, audio_grid()), 8 * 4e-3 * s / (8 + 4e-3 * s)), 1e-12);
}

TEST(LinearSystem, PassiveCircuitsLoseEnergy) {
  const auto circuit =
      rational_circuit(
          read_circuit(source_dir() / "impedance-curves/five-armature.circuit.toml").value)
          .circuit;
  const auto port = circuit.port();
  const auto system = linear_system(circuit, {}, {port});
  // a + a^T has no positive eigenvalue: x^T a x <= 0 on random states.
  std::mt19937 generator(5);
  std::normal_distribution<double> normal;
  for (int i = 0; i < 100; ++i) {
    Eigen::VectorXd x(system.a.rows());
    for (double& value : x) value = normal(generator);
    EXPECT_LE(x.dot(system.a * x), 1e-9 * system.a.norm() * x.squaredNorm());
  }
}

class DemoSystem : public testing::TestWithParam<const char*> {};

TEST_P(DemoSystem, EqualsTheSolver) {
  const auto circuit = read_circuit(source_dir() / "impedance-curves" / GetParam()).value;
  const auto rational = rational_circuit(circuit);
  EXPECT_LT(error_against_solver(rational.circuit), 1e-9);
  const auto model = port_model(rational.circuit);
  const double bound = std::string(GetParam()).find("piezo") == std::string::npos ? 0.1 : 2;
  EXPECT_LT(model_error_percent(model, circuit, {}), bound);
  for (const Complex pole : poles(model)) EXPECT_LE(pole.real(), 0);
}

INSTANTIATE_TEST_SUITE_P(Circuits, DemoSystem,
                         testing::Values("single-dynamic.circuit.toml", "planar.circuit.toml",
                                         "two-way-armature.circuit.toml",
                                         "five-armature.circuit.toml",
                                         "dynamic-armature-hybrid.circuit.toml",
                                         "dynamic-piezo-hybrid.circuit.toml"));

TEST(LinearSystem, RandomLadders) {
  std::mt19937 generator(11);
  std::uniform_real_distribution<double> decades(-1, 1);
  std::uniform_int_distribution<int> kind(0, 2);
  for (int trial = 0; trial < 60; ++trial) {
    std::vector<Part> parts;
    std::string here = "in";
    for (int i = 0; i < 6; ++i) {
      const std::string next = "n" + std::to_string(i), number = std::to_string(i);
      const auto any = [&](const std::string& name, const std::string& a, const std::string& b) {
        const double scale = std::pow(10, decades(generator));
        switch (kind(generator)) {
          case 0:
            return resistor(name, a, b, 20 * scale);
          case 1:
            return inductor(name, a, b, 2e-3 * scale);
          default:
            return capacitor(name, a, b, 5e-6 * scale);
        }
      };
      parts.push_back(any("s" + number, here, next));
      parts.push_back(any("p" + number, next, "0"));
      here = next;
    }
    parts.push_back(resistor("end", here, "0", 30));
    // Lossless parts can put a pole on the frequency axis, so the solver is asked off resonance
    // too: a little loss in front of everything keeps both finite.
    const auto circuit = circuit_of(std::move(parts));
    EXPECT_LT(error_against_solver(circuit), 1e-7) << trial;
  }
}

TEST(RationalCircuit, RealisesAnyPartialFractions) {
  RationalModel model;
  model.constant = 7;
  model.proportional = 1e-4;
  model.real = {{-900, 2000}, {-4e4, -1e5}};
  model.pairs = {{Complex(-1e3, 9e3), Complex(4e3, -700)}};
  const auto circuit = circuit_of(model, "any");
  EXPECT_LT(relative_error(driving_point(circuit, audio_grid()), evaluate(model, audio_grid())),
            1e-12);
  const auto back = port_model(circuit);
  EXPECT_EQ(back.order(), 4);
  EXPECT_LT(relative_error(evaluate(back, audio_grid()), evaluate(model, audio_grid())), 1e-12);
}

TEST(RationalCircuit, FollowsACurve) {
  const OnePort curve({20, 20000},
                      [](const Array& hz) { return ComplexArray(6.0 + 1e-4 * s_of(hz)); });
  const auto circuit = circuit_of({curve_part("Z", "in", "0", curve)});
  const auto rational = rational_circuit(circuit);
  EXPECT_TRUE(rational.approximated);
  EXPECT_LT(model_error_percent(port_model(rational.circuit), circuit, {}), 0.1);
}

TEST(LinearSystem, EnergyOfASeriesResonanceIsHalfInEachStore) {
  // i = e^(st) in the coil, i/s in the capacitor: L |i|^2 and |i/s|^2 / C, and |s|^2 = 1/(LC).
  const auto circuit = circuit_of(
      {resistor("R", "in", "a", 2), inductor("L", "a", "b", 1e-3), capacitor("C", "b", "0", 1e-6)});
  const auto models = port_models(circuit);
  const auto modes = zeros(models.impedance);
  ASSERT_EQ(modes.size(), 2u);
  const Array shares = energy_shares(models.system, models.modes, modes[0]);
  ASSERT_EQ(shares.size(), 2);
  EXPECT_NEAR(shares[0], 0.5, 1e-12);
  EXPECT_NEAR(shares[1], 0.5, 1e-12);
}

TEST(LinearSystem, EnergyIsWhereTheModeIs) {
  // Two parallel resonances far apart, one behind the other.
  const auto circuit = circuit_of({resistor("R", "in", "a", 1), inductor("L1", "a", "b", 1e-2),
                                   capacitor("C1", "a", "b", 1e-5), resistor("R1", "a", "b", 100),
                                   inductor("L2", "b", "0", 1e-5), capacitor("C2", "b", "0", 1e-7),
                                   resistor("R2", "b", "0", 100)});
  const auto models = port_models(circuit);
  const auto modes = zeros(models.impedance);
  const auto share_of_first = [&](Complex s) {
    const Array shares = energy_shares(models.system, models.modes, s);
    double sum = 0;
    for (Eigen::Index i = 0; i < shares.size(); ++i) {
      const auto& name = models.system.state_names[static_cast<std::size_t>(i)];
      if (name == "L1" || name == "C1") sum += shares[i];
    }
    return sum;
  };
  EXPECT_GT(share_of_first(modes.front()), 0.99);
  EXPECT_LT(share_of_first(modes.back()), 0.01);
}

TEST(LinearSystem, TransfersAreThoseOfTheSolver) {
  const auto circuit = circuit_of({resistor("R", "in", "a", 3), inductor("L", "a", "b", 2e-4),
                                   capacitor("C", "b", "0", 1e-6), resistor("R1", "b", "c", 5),
                                   capacitor("C1", "c", "0", 2e-7)});
  const auto models = port_models(circuit, {}, {{"middle", "b", "0"}, {"end", "c", "0"}});
  ASSERT_EQ(models.transfer.size(), 2u);
  const ComplexArray s = s_of(audio_grid());
  // By hand: R1 and C1 in series, beside C; then the divider of R1 and C1.
  const ComplexArray side = 5.0 + (2e-7 * s).inverse();
  const ComplexArray middle = (1e-6 * s + side.inverse()).inverse();
  EXPECT_LT(relative_error(evaluate(models.transfer[0], audio_grid()), middle), 1e-11);
  EXPECT_LT(
      relative_error(evaluate(models.transfer[1], audio_grid()), middle / (1.0 + 5 * 2e-7 * s)),
      1e-11);
}

}  // namespace
}  // namespace ohmtilt::test
