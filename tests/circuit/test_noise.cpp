#include <ohmtilt/circuit/thermal_noise.h>

#include "tests/circuit/circuits.h"

namespace ohmtilt::test {
namespace {

Circuit earphone() {
  return circuit_of({resistor("cable", "in", "a", 0.5), inductor("L", "a", "b", 2e-4, 0.7),
                     named_part(PartKind::dynamic_driver, "bass", {"b", "0"},
                                {{"dc_ohm", 17},
                                 {"resonance_hz", 210},
                                 {"q_mechanical", 1.9},
                                 {"q_electrical", 3.8},
                                 {"coil_k", 0.002},
                                 {"coil_n", 0.7}}),
                     capacitor("C", "a", "c", 2e-6, 0.05),
                     named_part(PartKind::armature_driver, "treble", {"c", "0"},
                                {{"dc_ohm", 13},
                                 {"coil_henry", 9e-5},
                                 {"coil_k", 0.03},
                                 {"moving_gram", 0.01},
                                 {"compliance_mm_per_newton", 0.5},
                                 {"resistance_kg_per_second", 0.05},
                                 {"force_factor_newton_per_ampere", 0.8},
                                 {"magnetic_stiffness_newton_per_mm", 0.7}}),
                     named_part(PartKind::piezo_driver, "disc", {"a", "0"},
                                {{"farad", 5e-8},
                                 {"loss_tangent", 0.02},
                                 {"resonance.1.ohm", 30},
                                 {"resonance.1.henry", 8e-3},
                                 {"resonance.1.farad", 4e-8}})});
}

TEST(Noise, OfAnyPassiveOnePortIsThatOfItsResistance) {
  // Nyquist's theorem: the sum over all parts equals 4 k T Re Z of the port.
  const Array hz = audio_grid();
  const auto noise = thermal_noise(earphone(), hz, {}, 310);
  const Array wanted =
      (4 * boltzmann_joule_per_kelvin * 310 * driving_point(earphone(), hz).real()).sqrt();
  EXPECT_LT((noise.volt_per_root_hz / wanted - 1).abs().maxCoeff(), 1e-12);
  EXPECT_EQ(noise.parts.size(), 6u);
  EXPECT_TRUE(noise.warnings.empty());
}

TEST(Noise, PartsAddUpInPower) {
  const auto noise = thermal_noise(earphone(), audio_grid());
  Array sum = Array::Zero(101);
  for (const auto& part : noise.parts) sum += part.volt_per_root_hz.square();
  EXPECT_LT((sum.sqrt() / noise.volt_per_root_hz - 1).abs().maxCoeff(), 1e-14);
}

TEST(Noise, ReactancesHaveNone) {
  const Circuit circuit = circuit_of({inductor("L", "in", "0", 1e-3), resistor("R", "x", "0", 1)});
  EXPECT_EQ(thermal_noise(circuit, audio_grid()).volt_per_root_hz.maxCoeff(), 0);
}

TEST(Noise, HighAndLowResistancesTakeBothPathsOfTheSolver) {
  // 1 Mohm beside 1 ohm: the voltage-noise and the current-noise form give the same density.
  const Circuit circuit =
      circuit_of({resistor("high", "in", "0", 1e6), resistor("low", "in", "0", 1)});
  const auto noise = thermal_noise(circuit, audio_grid(2));
  const double ohm = 1e6 / (1e6 + 1);
  EXPECT_NEAR(noise.volt_per_root_hz[0] / std::sqrt(4 * 1.380649e-23 * 293.15 * ohm), 1, 1e-13);
}

TEST(Noise, RefusesAnImpossibleTemperature) {
  EXPECT_NE(error_of([] { thermal_noise(earphone(), audio_grid(2), {}, -1); }).find("-1 K"),
            std::string::npos);
  EXPECT_EQ(thermal_noise(earphone(), audio_grid(2), {}, 0).volt_per_root_hz.maxCoeff(), 0);
}

TEST(Noise, OfANegativeResistanceIsNoneAndSaid) {
  Part active = curve_part("active", "in", "a", OnePort({1, 1e6}, [](const Array& hz) {
                             return ComplexArray(ComplexArray::Constant(hz.size(), -5));
                           }));
  const auto noise =
      thermal_noise(circuit_of({active, resistor("R", "a", "0", 20)}), audio_grid(2));
  ASSERT_EQ(noise.warnings.size(), 1u);
  EXPECT_NEAR(noise.volt_per_root_hz[0] / std::sqrt(4 * 1.380649e-23 * 293.15 * 20), 1, 1e-13);
}

}  // namespace
}  // namespace ohmtilt::test
