// The solver against closed forms and against conservation laws.
#include <ohmtilt/base/decibel.h>

#include <random>

#include "tests/circuit/circuits.h"

namespace ohmtilt::test {
namespace {

TEST(Solver, ElementaryPartsHaveTheirTextbookImpedance) {
  const Array hz = audio_grid();
  const ComplexArray s = s_of(hz);
  const auto z = [&](const Part& part) { return driving_point(circuit_of({part}), hz); };
  EXPECT_LT(relative_error(z(resistor("R", "in", "0", 47)), ComplexArray::Constant(101, 47)),
            1e-12);
  EXPECT_LT(relative_error(z(inductor("L", "in", "0", 2e-3, 0.5)), 2e-3 * s + 0.5), 1e-12);
  EXPECT_LT(relative_error(z(capacitor("C", "in", "0", 1e-6, 3)), (1e-6 * s).inverse() + 3), 1e-12);
  // Vanderkooy's semi-inductor: K sqrt(jw), phase 45 degrees (J. Audio Eng. Soc. 37(3), 1989).
  EXPECT_LT(relative_error(z(lossy_inductor("K", "in", "0", 0.05, 0.5)), 0.05 * s.sqrt()), 1e-12);
}

TEST(Solver, LossyCapacitorHasConstantLossTangent) {
  Part part = capacitor("C", "in", "0", 1e-7);
  part.values.push_back({"loss_tangent", 0.02});
  const ComplexArray y = driving_point(circuit_of({part}), audio_grid()).inverse();
  EXPECT_LT((y.real() / y.imag() - 0.02).abs().maxCoeff(), 1e-14);
}

TEST(Solver, LeachCoilOfSetBAtOneKilohertz) {
  // 6.89e-3 (jw)^0.7 at 1 kHz, by NumPy: 1.425581 + j2.797860 ohm. The form is that of W. M. Leach,
  // J. Audio Eng. Soc. 50(6), 2002, 442-450.
  const auto z = driving_point(circuit_of({lossy_inductor("K", "in", "0", 6.89e-3, 0.7)}),
                               Array::Constant(1, 1000));
  EXPECT_NEAR(z[0].real(), 1.425581, 1e-6);
  EXPECT_NEAR(z[0].imag(), 2.797860, 1e-6);
}

// R-L-C ladder of `sections`, closed by a resistor; its impedance by continued fractions.
TEST(Solver, LadderEqualsItsContinuedFraction) {
  const Array hz = audio_grid();
  const ComplexArray s = s_of(hz);
  std::vector<Part> parts;
  ComplexArray z = ComplexArray::Constant(hz.size(), 33);
  for (int k = 20; k >= 1; --k) {
    const std::string before = k == 1 ? "in" : "n" + std::to_string(k - 1),
                      here = "n" + std::to_string(k), number = std::to_string(k);
    if (k == 20) parts.push_back(resistor("end", here, "0", 33));
    parts.push_back(inductor("L" + number, before, here, 1e-4 * k, 0.3));
    parts.push_back(capacitor("C" + number, here, "0", 1e-6 / k, 0.1));
    z = 1e-4 * k * s + 0.3 + (z.inverse() + (0.1 + (1e-6 / k * s).inverse()).inverse()).inverse();
  }
  EXPECT_LT(relative_error(driving_point(circuit_of(parts), hz), z), 1e-12);
}

TEST(Solver, TransformerScalesAnImpedanceByTheSquareOfItsRatio) {
  const Circuit circuit =
      circuit_of({named_part(PartKind::transformer, "T", {"in", "0", "out", "0"}, {{"ratio", 3}}),
                  resistor("R", "out", "0", 8)},
                 {"in", "out"});
  EXPECT_LT(relative_error(driving_point(circuit, audio_grid()), ComplexArray::Constant(101, 72)),
            1e-14);
  EXPECT_NEAR(transfers(circuit, audio_grid())[0].volt[7].real(), 1.0 / 3, 1e-15);
}

TEST(Solver, GyratorTurnsACapacitorIntoAnInductor) {
  const auto z = driving_point(
      circuit_of({named_part(PartKind::gyrator, "G", {"in", "0", "m", "0"}, {{"ohm", 5}}),
                  capacitor("C", "m", "0", 4e-6)}),
      audio_grid());
  EXPECT_LT(relative_error(z, 25 * 4e-6 * s_of(audio_grid())), 1e-14);
}

TEST(Solver, GyratorIsAntiReciprocal) {
  // v(a,b) = -r i into c, v(c,d) = r i into a: Z12 = -r, Z21 = r.
  const Circuit circuit =
      circuit_of({named_part(PartKind::gyrator, "G", {"in", "0", "out", "0"}, {{"ohm", 5}}),
                  resistor("R1", "in", "0", 100), resistor("R2", "out", "0", 100)},
                 {"in", "out"});
  const auto s = scattering(circuit, audio_grid(3), "in", "out", 50);
  EXPECT_NEAR(std::abs(s.s12[0] + s.s21[0]), 0, 1e-15);
  EXPECT_GT(s.s21[0].real(), 0);
}

TEST(Solver, GyratorCoupledSeriesResonanceEqualsItsParallelDual) {
  // Mass, compliance and loss in series behind r: r^2 / (m s + b + k/s) is C = m/r^2, R = r^2/b,
  // L = r^2/k in parallel.
  const double r = 2, m = 3e-4, b = 0.2, compliance = 5e-4;
  const Circuit coupled =
      circuit_of({named_part(PartKind::gyrator, "G", {"in", "0", "f", "0"}, {{"ohm", r}}),
                  inductor("m", "f", "x", m), resistor("b", "x", "y", b),
                  capacitor("c", "y", "0", compliance)});
  const Circuit dual =
      circuit_of({capacitor("C", "in", "0", m / (r * r)), resistor("R", "in", "0", r * r / b),
                  inductor("L", "in", "0", r * r * compliance)});
  EXPECT_LT(relative_error(driving_point(coupled, audio_grid()), driving_point(dual, audio_grid())),
            1e-12);
}

Circuit coupled_pair(double coupling) {
  return circuit_of({named_part(PartKind::coupled_inductors, "K", {"in", "0", "out", "0"},
                                {{"henry", 4e-3}, {"second_henry", 1e-3}, {"coupling", coupling}}),
                     resistor("R", "out", "0", 8)},
                    {"in", "out"});
}

TEST(Solver, CoupledInductorsWithoutCouplingAreTwoInductors) {
  const Array hz = audio_grid();
  EXPECT_LT(relative_error(driving_point(coupled_pair(0), hz), 4e-3 * s_of(hz)), 1e-14);
  EXPECT_EQ(transfers(coupled_pair(0), hz)[0].volt.abs().maxCoeff(), 0);
}

TEST(Solver, FullyCoupledInductorsAreATransformerBesideTheFirstInductance) {
  const Array hz = audio_grid();
  const ComplexArray magnetising = 4e-3 * s_of(hz);
  const ComplexArray wanted = (magnetising.inverse() + 1.0 / 32).inverse();  // ratio 2: 8 ohm -> 32
  EXPECT_LT(relative_error(driving_point(coupled_pair(1), hz), wanted), 1e-12);
  EXPECT_NEAR(std::abs(transfers(coupled_pair(1), hz)[0].volt[50] - 0.5), 0, 1e-12);
}

TEST(Solver, ControlledSourcesObeyTheirDefinitions) {
  // A voltage follower, a transconductor, and current-controlled ones that listen to "sense".
  const Circuit circuit =
      circuit_of({resistor("Rin", "in", "s", 1000), voltage_source("sense", "s", "0", 0),
                  named_part(PartKind::voltage_controlled_voltage_source, "E",
                             {"e", "0", "in", "0"}, {{"gain", -7}}),
                  resistor("Re", "e", "0", 10),
                  named_part(PartKind::voltage_controlled_current_source, "G",
                             {"0", "g", "in", "0"}, {{"siemens", 0.02}}),
                  resistor("Rg", "g", "0", 50),
                  named_part(PartKind::current_controlled_voltage_source, "H", {"h", "0"},
                             {{"ohm", 300}}, "sense"),
                  resistor("Rh", "h", "0", 10),
                  named_part(PartKind::current_controlled_current_source, "F", {"0", "f"},
                             {{"gain", 4}}, "sense"),
                  resistor("Rf", "f", "0", 25)},
                 {"in", "e", "g", "h", "f"});
  const auto h = transfers(circuit, audio_grid(2));
  ASSERT_EQ(h.size(), 4u);
  EXPECT_NEAR(h[0].volt[0].real(), -7, 1e-13);
  EXPECT_NEAR(h[1].volt[0].real(), 0.02 * 50, 1e-13);
  EXPECT_NEAR(h[2].volt[0].real(), 0.3, 1e-13);
  EXPECT_NEAR(h[3].volt[0].real(), 4e-3 * 25, 1e-13);
}

TEST(Solver, OwnSourcesGiveTheveninVoltAndImpedance) {
  const Circuit circuit =
      circuit_of({voltage_source("V", "v", "0", 3, 90), resistor("R1", "v", "in", 10),
                  resistor("R2", "in", "0", 20), current_source("I", "0", "in", 0.5)});
  const auto source = thevenin(circuit, audio_grid(2));
  // 20/30 of j3 V, and 0.5 A into 10 || 20 ohm.
  EXPECT_NEAR(std::abs(source.open_volt[1] - Complex(0.5 * 20.0 / 3, 2)), 0, 1e-14);
  EXPECT_NEAR(source.impedance_ohm[1].real(), 20.0 / 3, 1e-14);
}

TEST(Solver, ZeroOhmIsAWire) {
  const Circuit circuit =
      circuit_of({resistor("wire", "in", "a", 0), resistor("R", "a", "0", 16),
                  inductor("coil", "a", "b", 0), capacitor("C", "b", "0", 1e-6)});
  const ComplexArray wanted = (1.0 / 16 + 1e-6 * s_of(audio_grid())).inverse();
  EXPECT_LT(relative_error(driving_point(circuit, audio_grid()), wanted), 1e-14);
}

TEST(Solver, SeriesOnlyTwoPortHasChainParameters) {
  const Circuit circuit =
      circuit_of({resistor("R", "in", "out", 18), capacitor("C", "in", "out", 1e-6),
                  resistor("elsewhere", "x", "0", 1)},
                 {"in", "out"});
  const auto chain = chain_parameters(circuit, audio_grid(), "in", "out");
  EXPECT_LT(relative_error(chain.b_ohm, (1.0 / 18 + 1e-6 * s_of(audio_grid())).inverse()), 1e-12);
  EXPECT_LT((chain.a - 1.0).abs().maxCoeff(), 1e-13);
  EXPECT_LT(chain.c_siemens.abs().maxCoeff(), 1e-15);
}

TEST(Solver, ParallelPortsOfASinglePartCircuit) {
  const OnePort z = one_port(circuit_of({resistor("R", "in", "0", 12)}));
  EXPECT_EQ(z.at(1000.0), Complex(12, 0));
}

// Random passive meshes with sources: Tellegen's theorem, reciprocity and passivity hold for each.
Circuit random_mesh(unsigned seed, int nodes, bool with_sources) {
  std::mt19937 random(seed);
  const auto in = [&](double low, double high) {
    return low * std::pow(high / low, static_cast<double>(random()) / 4294967296.0);
  };
  std::vector<Part> parts;
  const auto node = [](int k) {
    return k == 0 ? std::string("0") : k == 1 ? "in" : k == 2 ? "out" : "n" + std::to_string(k);
  };
  for (int k = 1; k <= nodes; ++k)  // a tree of resistors, so that every node has a path
    parts.push_back(resistor("R" + std::to_string(k), node(k),
                             node(static_cast<int>(random() % static_cast<unsigned>(k))),
                             in(1, 1e4)));
  for (int k = 0; k < 2 * nodes; ++k) {
    const int a = static_cast<int>(random() % static_cast<unsigned>(nodes + 1));
    const int b = static_cast<int>(random() % static_cast<unsigned>(nodes + 1));
    if (a == b) continue;
    const std::string name = "P" + std::to_string(k);
    if (k % 3 == 0) parts.push_back(inductor(name, node(a), node(b), in(1e-6, 1e-1), in(1e-3, 1)));
    if (k % 3 == 1) parts.push_back(capacitor(name, node(a), node(b), in(1e-10, 1e-4)));
    if (k % 3 == 2) parts.push_back(lossy_inductor(name, node(a), node(b), in(1e-4, 1), 0.6));
  }
  parts.push_back(named_part(PartKind::transformer, "T", {"in", "0", "t", "0"}, {{"ratio", 2.5}}));
  parts.push_back(resistor("Rt", "t", node(nodes), 20));
  if (with_sources) {
    parts.push_back(voltage_source("V", "v", "0", 1.5, 30));
    parts.push_back(resistor("Rv", "v", "out", 5));
    parts.push_back(current_source("I", "in", node(nodes), 0.02, -70));
    parts.push_back(named_part(PartKind::gyrator, "G", {"in", "0", "out", "0"}, {{"ohm", 30}}));
    parts.push_back(named_part(PartKind::coupled_inductors, "K", {"out", "0", "in", "0"},
                               {{"henry", 1e-3}, {"second_henry", 2e-3}, {"coupling", 0.9}}));
    parts.push_back(named_part(PartKind::current_controlled_current_source, "F", {"in", "out"},
                               {{"gain", 0.3}}, "V"));
  }
  return circuit_of(std::move(parts), {"in", "out"});
}

double power_imbalance(const std::vector<Branch>& branches) {
  ComplexArray sum = ComplexArray::Zero(branches[0].volt.size());
  Array size = Array::Zero(sum.size());
  for (const auto& branch : branches) {
    sum += branch.power_watt();
    size += branch.power_watt().abs();
  }
  EXPECT_GT(size.minCoeff(), 0);
  return (sum.abs() / size).maxCoeff();
}

TEST(Solver, PowersOfAllBranchesAddUpToZero) {
  for (unsigned seed = 1; seed <= 20; ++seed) {
    const Circuit circuit = random_mesh(seed, 12, true);
    EXPECT_LT(power_imbalance(own_branches(circuit, audio_grid(31))), 1e-12) << seed;
    EXPECT_LT(power_imbalance(driven_branches(circuit, audio_grid(31))), 1e-12) << seed;
  }
}

TEST(Solver, PassiveMeshesAreReciprocalAndPassive) {
  for (unsigned seed = 1; seed <= 20; ++seed) {
    const Circuit circuit = random_mesh(seed, 15, false);
    const auto s = scattering(circuit, audio_grid(31), "in", "out", 50);
    EXPECT_LT(relative_error(s.s12, s.s21), 1e-10) << seed;
    EXPECT_GE(driving_point(circuit, audio_grid(31)).real().minCoeff(), 0) << seed;
    EXPECT_LE((s.s11.abs2() + s.s21.abs2()).maxCoeff(), 1 + 1e-12) << seed;
    const auto c = chain_parameters(circuit, audio_grid(31), "in", "out");
    EXPECT_LT((c.a * c.d - c.b_ohm * c.c_siemens - 1.0).abs().maxCoeff(), 1e-9) << seed;
  }
}

TEST(Solver, ChangedValuesEqualANewCircuit) {
  const Circuit circuit = random_mesh(3, 12, true);
  NodalSystem system(circuit, audio_grid());
  const auto index = circuit.value_index("R4", "ohm");
  system.set_value(index, 77);
  const Circuit changed = with_value(circuit, index, 77);
  EXPECT_LT(
      relative_error(driving_point(system, circuit.port()), driving_point(changed, audio_grid())),
      1e-12);
  EXPECT_NE(error_of([&] { system.set_value(index, -1); }).find("not physical"), std::string::npos);
  EXPECT_LT(
      relative_error(driving_point(system, circuit.port()), driving_point(changed, audio_grid())),
      1e-12);
}

TEST(Solver, SameInputSameBits) {
  const Circuit circuit = random_mesh(5, 12, true);
  const NodalSystem system(circuit, audio_grid());
  const NodalSystem copy(system);
  const auto once = driving_point(system, circuit.port()),
             again = driving_point(copy, circuit.port());
  EXPECT_TRUE((once == again).all());
}

TEST(Solver, LosslessResonanceIsSingularAtItsFrequencyAndNamed) {
  // L = 1, C = 1 / w^2 with w the very double of 1 kHz: j w C + 1 / (j w L) cancels.
  const double w = 2 * std::numbers::pi * 1000;
  const Circuit circuit =
      circuit_of({inductor("L", "in", "0", 1), capacitor("C", "in", "0", 1 / w / w)});
  const std::string text = error_of([&] { driving_point(circuit, Array::Constant(1, 1000)); });
  EXPECT_NE(text.find("1000 Hz"), std::string::npos) << text;
  EXPECT_NE(text.find("node \"in\""), std::string::npos) << text;
  EXPECT_EQ(error_of([&] { driving_point(circuit, Array::Constant(1, 1001)); }), "");
}

TEST(Solver, RefusesFrequenciesThatAreNone) {
  const Circuit circuit = circuit_of({resistor("R", "in", "0", 1)});
  for (const double f : {0.0, -1.0, std::nan(""), 1e300})
    EXPECT_NE(error_of([&] { driving_point(circuit, Array::Constant(1, f)); }), "") << f;
  EXPECT_NE(error_of([&] { driving_point(circuit, Array()); }), "");
}

TEST(Solver, DrivingAShortedPortIsRefused) {
  const Circuit circuit =
      circuit_of({voltage_source("V", "in", "0", 1), resistor("R", "in", "0", 5)}, {"in"});
  EXPECT_EQ(driving_point(circuit, audio_grid(2))[0], Complex(0, 0));
  EXPECT_NE(error_of([&] { transfers(circuit, audio_grid(2)); }).find("shorted"),
            std::string::npos);
}

}  // namespace
}  // namespace ohmtilt::test
