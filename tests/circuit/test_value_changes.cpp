#include <ohmtilt/circuit/sensitivity.h>
#include <ohmtilt/circuit/value_changes.h>
#include <ohmtilt/text/error.h>

#include <random>

#include "tests/circuit/circuits.h"

namespace ohmtilt::test {
namespace {

const Array three = (Array(3) << 100, 1000, 10000).finished();

// By hand: 90 ohm and 10 ohm in series. 1 % more of 90 is 0.9 % more of 100, and 10/100.9 of the
// voltage in place of 10/100.
TEST(ValueChanges, OfADividerAreThoseByHand) {
  const Circuit circuit = circuit_of(
      {resistor("top", "in", "out", 90), resistor("bottom", "out", "0", 10)}, {"in", "out"});
  const auto changes = port_changes(circuit, three, "in", "in", {"out"});
  ASSERT_EQ(changes.size(), 2u);
  EXPECT_EQ(changes[0].changed.part, "top");
  EXPECT_NEAR(changes[0].impedance_peak_percent, 0.9, 1e-12);
  EXPECT_NEAR(changes[0].transfer_db[0][1], 20 * std::log10(100 / 100.9), 1e-12);
  EXPECT_NEAR(changes[1].transfer_db[0][2], 20 * std::log10(1.01 * 100 / 100.1), 1e-12);
}

TEST(ValueChanges, GoDownWhereUpIsNotPhysical) {
  const Circuit circuit = circuit_of({lossy_inductor("coil", "in", "0", 0.1, 1)});
  const auto changes = port_changes(circuit, three, "", "in", {});
  ASSERT_EQ(changes.size(), 2u);
  for (const auto& one : changes)
    EXPECT_EQ(one.changed.percent, one.changed.quantity == "n" ? -1 : 1);
}

// At the bottom of a trap of Q 100 the derivative of |Z| by the capacitance is 0; 1 % more of it is
// 41 % more |Z| there: |1 + j Q (1 - 1/1.01)| - 1.
TEST(ValueChanges, AreDifferencesAtAResonance) {
  const double w = 2 * std::numbers::pi * 1000, henry = 1e-3, q = 100;
  const auto trap = [&](double farad) {
    return circuit_of(
        {inductor("L", "in", "a", henry, w * henry / q), capacitor("C", "a", "0", farad)});
  };
  const double farad = 1 / (w * w * henry);
  const Array hz = Array::Constant(1, 1000);
  const auto changes = port_changes(trap(farad), hz, "", "in", {});
  const double before = std::abs(driving_point(trap(farad), hz)[0]);
  const double after = std::abs(driving_point(trap(1.01 * farad), hz)[0]);
  for (const auto& one : changes)
    if (one.changed.part == "C") {
      EXPECT_NEAR(one.impedance_percent[0], 100 * (after / before - 1), 1e-9);
      EXPECT_NEAR(one.impedance_percent[0], 40.7, 0.1);
    }
}

// Class: a small change is the derivative, of 200 random ladders.
TEST(ValueChanges, OfASmallPercentageAreTheDerivative) {
  std::mt19937 random(3);
  const auto value = [&](double low, double high) {
    return low * std::pow(high / low, std::uniform_real_distribution<double>(0, 1)(random));
  };
  for (int trial = 0; trial < 200; ++trial) {
    const Circuit circuit = circuit_of({resistor("R", "in", "a", value(1, 100)),
                                        inductor("L", "a", "b", value(1e-5, 1e-2), value(0.1, 10)),
                                        capacitor("C", "b", "0", value(1e-7, 1e-4), value(0.1, 5)),
                                        resistor("S", "a", "0", value(10, 1000))});
    const auto derivatives = impedance_sensitivities(circuit, three);
    for (const auto& one : port_changes(circuit, three, "", "in", {}, 1e-3))
      for (const auto& of : derivatives)
        if (of.part == one.changed.part && of.quantity == one.changed.quantity) {
          EXPECT_LT((one.impedance_percent / 1e-3 - of.value.real()).abs().maxCoeff(), 1e-3)
              << trial << one.changed.part;
        }
  }
}

TEST(ValueChanges, RefuseAShortedPort) {
  const Circuit circuit = circuit_of({resistor("R", "in", "0", 0), resistor("S", "in", "0", 1)});
  EXPECT_THROW(port_changes(circuit, three, "", "in", {}), InputError);
}

}  // namespace
}  // namespace ohmtilt::test
