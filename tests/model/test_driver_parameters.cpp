#include <ohmtilt/base/decibel.h>
#include <ohmtilt/model/driver_parameters.h>
#include <ohmtilt/model/passive_fit.h>

#include <numbers>

#include "tests/support.h"

namespace {
using namespace ohmtilt;
constexpr double two_pi = 2 * std::numbers::pi;

/// Re + Cmes, Lces, Res in parallel.
ComplexArray motional(const Array& hz, double re, double farad, double henry, double res) {
  const ComplexArray s = Complex(0, 1) * (two_pi * hz).cast<Complex>();
  return re + (1 / res + (s * henry).inverse() + s * farad).inverse();
}

ImpedanceCurve curve_of(const Array& hz, const ComplexArray& z) {
  return {{}, hz, z.abs(), z.arg() / degree};
}

DriverReading reading_of(const ImpedanceCurve& curve) {
  return read_driver(fit_passive_model(curve), curve);
}

ComplexArray set_a(const Array& hz) { return motional(hz, 6.18, 302.84e-6, 6.88e-3, 21.62); }

// Set A of a published parameter sheet (Lces, Cmes, Res, Re) without its coil, extracted exactly
// with NumPy by the recipe of R. H. Small, J. Audio Eng. Soc. 20(5), 1972, 383-395.
TEST(Driver, RecipeOnSetAWithoutCoil) {
  const Array hz = log_grid({20, 1000}, 4000);
  const auto p = driver_by_recipe(curve_of(hz, set_a(hz)), 6.18);
  ASSERT_TRUE(p);
  EXPECT_NEAR(p->peak_ohm, 27.8, 1e-4);
  EXPECT_NEAR(p->resonance_hz, 110.260, 1e-3);
  EXPECT_NEAR(p->lower_hz, 87.45558, 1e-3);
  EXPECT_NEAR(p->upper_hz, 139.01160, 1e-3);
  EXPECT_NEAR(p->q_mechanical, 4.535948, 2e-4);
  EXPECT_NEAR(p->q_electrical, 1.296585, 1e-4);
  EXPECT_NEAR(p->q_total, 1.008351, 1e-4);
  EXPECT_NEAR(p->motional_ohm, 21.62, 1e-4);
  EXPECT_NEAR(p->motional_farad, 302.84e-6, 5e-8);
  EXPECT_NEAR(p->motional_henry, 6.88e-3, 1e-6);
}

// The same, computed with NumPy: with its Wright coil (0.0022 w^0.75 + j 0.0048 w^0.76) the recipe
// is biased.
TEST(Driver, RecipeOnSetAWithItsCoil) {
  const Array hz = log_grid({20, 1000}, 4000), w = two_pi * hz;
  ComplexArray z = set_a(hz);
  z.real() += 0.0022 * w.pow(0.75);
  z.imag() += 0.0048 * w.pow(0.76);
  const auto p = driver_by_recipe(curve_of(hz, z), 6.18);
  ASSERT_TRUE(p);
  EXPECT_NEAR(p->resonance_hz, 110.0300, 1e-3);
  EXPECT_NEAR(p->peak_ohm, 28.1104, 1e-4);
  EXPECT_NEAR(p->lower_hz, 86.2474, 1e-3);
  EXPECT_NEAR(p->upper_hz, 137.9243, 1e-3);
  EXPECT_NEAR(p->q_mechanical, 4.54103, 2e-4);
  EXPECT_NEAR(p->q_electrical, 1.27967, 1e-4);
  EXPECT_NEAR(p->q_total, 0.99833, 1e-4);
}

struct Set {
  double re, farad, henry, res, k, n, hz, qms, qes;
};

// Published sets A (coil left out), B (Leach coil) and C (pure inductance), their fs and Q computed
// with NumPy from the mechanical or electrical elements by the formulas of Small (1972). The
// fitted circuit is free of the coil's bias.
TEST(Driver, CircuitOnSetsABC) {
  const Set sets[] = {
      {6.18, 302.84e-6, 6.88e-3, 21.62, 1e-5, 0.9, 110.260, 4.535948, 1.296585},
      {7, 342.099e-6, 153.353e-3, 70.2486, 6.89e-3, 0.7, 21.9735, 3.31794, 0.330619},
      {5.4, 548e-6, 0.1, 32.0153, 3.3e-3, 1, 21.4996, 2.37, 0.399746}};
  const Array hz = log_grid({5, 20000}, 600);
  for (const Set& set : sets) {
    const ComplexArray s = Complex(0, 1) * (two_pi * hz).cast<Complex>();
    const ComplexArray z =
        motional(hz, set.re, set.farad, set.henry, set.res) + set.k * s.pow(set.n);
    const auto p = reading_of(curve_of(hz, z)).driver;
    ASSERT_TRUE(p);
    EXPECT_NEAR(p->dc_ohm, set.re, 5e-4 * set.re);
    EXPECT_NEAR(p->resonance_hz, set.hz, 5e-4 * set.hz);
    EXPECT_NEAR(p->q_mechanical, set.qms, 1e-3 * set.qms);
    EXPECT_NEAR(p->q_electrical, set.qes, 1e-3 * set.qes);
    EXPECT_NEAR(p->motional_farad, set.farad, 1e-3 * set.farad);
  }
}

TEST(Driver, WritesALargeShareInPlainDigits) {
  // 8 ohm, a coil of 30 mH (20.7 ohm at 110 Hz, 259 % of it) and a resonance of 20 ohm.
  const Array hz = log_grid({5, 20000}, 400);
  const ComplexArray s = Complex(0, 1) * (two_pi * hz).cast<Complex>();
  const ComplexArray z = motional(hz, 8, 302.84e-6, 6.88e-3, 20) + 30e-3 * s;
  PassiveFit fit;
  fit.model.branches = {{{BlockKind::resistor, 8, 0, 0, 0, 0},
                         {BlockKind::inductor, 0, 30e-3, 0, 0, 0},
                         {BlockKind::resonance, 20, 6.88e-3, 302.84e-6, 0, 0}}};
  const std::string why = read_driver(fit, curve_of(hz, z)).why;
  EXPECT_EQ(why.find("e+"), std::string::npos) << why;
  EXPECT_NE(why.find("coil reactance 26"), std::string::npos) << why;
}

TEST(Driver, NothingWithoutAPeak) {
  const Array hz = log_grid({20, 20000}, 100);
  const ImpedanceCurve flat({}, hz, Array::Constant(100, 16), Array::Zero(100));
  EXPECT_FALSE(driver_by_recipe(flat));
  EXPECT_FALSE(reading_of(flat).driver);
}

}  // namespace
