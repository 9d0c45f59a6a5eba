// Bursts that meet a mode, against closed forms.
#include <gtest/gtest.h>
#include <ohmtilt/analysis/damping/time_response.h>

#include <cmath>
#include <numbers>

namespace ohmtilt::test {
namespace {

constexpr double omega = 2 * std::numbers::pi * 1000;
const ToneBurst burst{1000, 8};
const TimeGrid grid{1e-5, 1600};  // twice the burst

/// w0^2 / ((s - pole)(s - pole*)) with w0 = |pole|.
RationalModel resonator(Complex pole) {
  RationalModel model;
  model.pairs.push_back({pole, std::norm(pole) / (2.0 * Complex(0, 1) * pole.imag())});
  return model;
}

double largest_difference(const Array& a, const Array& b) { return (a - b).abs().maxCoeff(); }

// w^2/(s^2 + w^2) by w/(s^2 + w^2) is the Laplace transform of (sin wt - wt cos wt)/2; after whole
// cycles the same, delayed, is taken off, and -(w 8 T) cos(wt)/2 = -8 pi cos(wt) stays.
TEST(BurstResponse, OfAnUndampedModeGrowsWithTime) {
  const auto result = burst_response(resonator({0, omega}), burst, grid);
  const Array t = grid.time_s(), x = omega * t;
  const Array during = (x.sin() - x * x.cos()) / 2;
  const Array after = -8 * std::numbers::pi * x.cos();
  const Array expected = (t < burst.length_s() - 1e-9).select(during, after);
  EXPECT_LT(largest_difference(result.volt, expected), 1e-9);
  EXPECT_NEAR(result.envelope_volt[grid.count - 1], 8 * std::numbers::pi, 1e-9);
  EXPECT_LT(result.envelope_volt.maxCoeff(), 8 * std::numbers::pi + 0.03);
}

// Not much changes with a little detuning or damping, on either side of where the form changes:
// relative to |p^2 + w^2| = 2 e w^2 the response moves by no more than about e (w t)^2.
TEST(BurstResponse, IsSmoothAroundAMode) {
  const Array exact = burst_response(resonator({0, omega}), burst, grid).volt;
  for (const double e : {1e-12, 1e-9, 4.9e-7, 5.1e-7, 1e-6})
    for (const Complex pole : {Complex(0, omega * (1 + e)), Complex(-omega * e, omega)}) {
      const Array near = burst_response(resonator(pole), burst, grid).volt;
      EXPECT_LT(largest_difference(near, exact), 6000 * e + 1e-8) << e;
    }
}

// The two forms agree where both hold: 1e-6 apart in frequency the plain one keeps ten digits.
TEST(BurstResponse, IsTheSameByBothForms) {
  const Array inside = burst_response(resonator({-omega * 4.99e-7, omega}), burst, grid).volt;
  const Array outside = burst_response(resonator({-omega * 5.01e-7, omega}), burst, grid).volt;
  EXPECT_LT(largest_difference(inside, outside), 2e-9 * 6000);
}

}  // namespace
}  // namespace ohmtilt::test
