#include <ohmtilt/circuit/sensitivity.h>

#include "tests/circuit/circuits.h"

namespace ohmtilt::test {
namespace {

Circuit circuit_of_every_kind() {
  return circuit_of({resistor("R", "in", "a", 12), inductor("L", "a", "b", 2e-4, 0.7),
                     capacitor("C", "b", "0", 2e-6, 0.3), lossy_inductor("K", "b", "c", 0.03, 0.6),
                     named_part(PartKind::transformer, "T", {"c", "0", "d", "0"}, {{"ratio", 1.7}}),
                     named_part(PartKind::gyrator, "G", {"d", "0", "e", "0"}, {{"ohm", 9}}),
                     resistor("Re", "e", "0", 40),
                     named_part(PartKind::coupled_inductors, "M", {"b", "0", "out", "0"},
                                {{"henry", 3e-3}, {"second_henry", 1e-3}, {"coupling", 0.8}}),
                     resistor("Ro", "out", "0", 16), voltage_source("sense", "x", "0", 0),
                     resistor("Rx", "b", "x", 300),
                     named_part(PartKind::current_controlled_current_source, "F", {"0", "e"},
                                {{"gain", 0.4}}, "sense"),
                     named_part(PartKind::voltage_controlled_current_source, "S",
                                {"0", "out", "a", "0"}, {{"siemens", 0.01}}),
                     named_part(PartKind::dynamic_driver, "D", {"b", "0"},
                                {{"dc_ohm", 17},
                                 {"resonance_hz", 210},
                                 {"q_mechanical", 1.9},
                                 {"q_electrical", 3.8},
                                 {"coil_henry", 3e-5}}),
                     named_part(PartKind::armature_driver, "A", {"b", "0"},
                                {{"dc_ohm", 13},
                                 {"coil_henry", 9e-5},
                                 {"coil_k", 0.03},
                                 {"moving_gram", 0.01},
                                 {"compliance_mm_per_newton", 0.5},
                                 {"resistance_kg_per_second", 0.05},
                                 {"force_factor_newton_per_ampere", 0.8},
                                 {"magnetic_stiffness_newton_per_mm", 0.7}})},
                    {"in", "out"});
}

template <class Quantity>
double worst_against_differences(const Circuit& circuit, const std::vector<PartSensitivity>& found,
                                 const Quantity& quantity) {
  double worst = 0;
  for (const auto& s : found) {
    const auto index = circuit.value_index(s.part, s.quantity);
    const double value = circuit.parts()[index.part].values[index.value].value, h = 1e-5;
    const ComplexArray up = quantity(with_value(circuit, index, value * (1 + h)));
    const ComplexArray down = quantity(with_value(circuit, index, value * (1 - h)));
    const ComplexArray wanted = (up.log() - down.log()) / (2 * h);
    worst = std::max(worst, (s.value - wanted).abs().maxCoeff());
  }
  return worst;
}

TEST(Sensitivities, OfTheImpedanceEqualCentralDifferences) {
  const Array hz = audio_grid(41);
  const auto found = impedance_sensitivities(circuit_of_every_kind(), hz);
  EXPECT_EQ(found.size(), 30u);
  EXPECT_LT(worst_against_differences(circuit_of_every_kind(), found,
                                      [&](const Circuit& c) { return driving_point(c, hz); }),
            1e-5);
}

TEST(Sensitivities, OfScaledImpedancesAddUpToOne) {
  // Z is homogeneous of degree 1 in all its impedances: R and L count 1, C counts -1 (Euler).
  const Circuit circuit = circuit_of({resistor("R", "in", "a", 5), inductor("L", "a", "b", 1e-3, 2),
                                      capacitor("C", "b", "0", 1e-6), resistor("P", "b", "0", 70)});
  ComplexArray sum = ComplexArray::Zero(101);
  for (const auto& s : impedance_sensitivities(circuit, audio_grid()))
    sum += (s.quantity == "farad" ? -1.0 : 1.0) * s.value;
  EXPECT_LT((sum - 1.0).abs().maxCoeff(), 1e-10);
}

TEST(Sensitivities, PeaksComeMostSensitiveFirst) {
  const Array hz = audio_grid();
  const auto peaks = sensitivity_peaks(impedance_sensitivities(circuit_of_every_kind(), hz), hz);
  for (std::size_t i = 1; i < peaks.size(); ++i)
    EXPECT_GE(std::abs(peaks[i - 1].peak), std::abs(peaks[i].peak));
}

}  // namespace
}  // namespace ohmtilt::test
