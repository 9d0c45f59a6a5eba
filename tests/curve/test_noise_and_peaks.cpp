#include <ohmtilt/curve/measurement_noise.h>
#include <ohmtilt/curve/peaks.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

#include "tests/support.h"

namespace {
using namespace ohmtilt;

TEST(Noise, ACubicHasNone) {
  const Array x = Array::LinSpaced(50, 0, 3).square();
  EXPECT_LT(neighbour_residual(x, 1 + x - x.square() + 0.1 * x.cube()).abs().maxCoeff(), 1e-11);
}

TEST(Noise, WhiteNoiseIsMeasured) {
  std::mt19937 generator(5);
  std::normal_distribution<double> normal;
  const Array hz = log_grid({20, 20000}, 480);
  Array ohm(480);
  for (double& value : ohm) value = 16 * (1 + 0.01 * normal(generator));
  EXPECT_NEAR(noise_percent(ImpedanceCurve({}, hz, ohm)), 1, 0.15);
  ohm[100] *= 2;  // one outlier changes little
  EXPECT_NEAR(noise_percent(ImpedanceCurve({}, hz, ohm)), 1, 0.15);
  EXPECT_EQ(noise_percent(ImpedanceCurve({}, hz.head(4), ohm.head(4))), 0);
}

TEST(Peaks, HeightAndFrequencyBetweenThePoints) {
  const Array hz = log_grid({20, 20000}, 200), x = (hz / 1000).log();
  const Array ohm = 20 + 30 * (-x.square() * 4).exp();
  const auto peaks = magnitude_peaks(ImpedanceCurve({}, hz, ohm));
  ASSERT_EQ(peaks.size(), 1U);
  EXPECT_NEAR(peaks[0].hz, 1000, 0.5);
  EXPECT_NEAR(peaks[0].ohm, 50, 0.01);
  EXPECT_TRUE(magnitude_peaks(ImpedanceCurve({}, hz, 20 + x.abs())).empty());
}

// A parabola through unevenly spaced points may reach far above all of them.
TEST(Peaks, AreBoundedByTheirNeighbours) {
  std::mt19937 generator(11);
  std::uniform_real_distribution<double> place(std::log(20), std::log(20000)), height(-1, 1);
  for (int round = 0; round < 300; ++round) {
    std::vector<double> ln_f(12);
    for (double& value : ln_f) value = place(generator);
    std::sort(ln_f.begin(), ln_f.end());
    Array hz(12), ohm(12);
    for (Eigen::Index i = 0; i < 12; ++i) {
      hz[i] = std::exp(ln_f[std::size_t(i)]);
      ohm[i] = 16 * std::exp(height(generator));
    }
    for (const Peak& peak : magnitude_peaks(ImpedanceCurve({}, hz, ohm))) {
      const Eigen::Index i = peak.index;
      const double fall = ohm[i] / std::min(ohm[i - 1], ohm[i + 1]);
      EXPECT_GE(peak.ohm, ohm[i] * (1 - 1e-12));
      EXPECT_LE(peak.ohm, ohm[i] * std::pow(fall, 0.126)) << round;
      EXPECT_GT(peak.hz, hz[i - 1]);
      EXPECT_LT(peak.hz, hz[i + 1]);
    }
  }
}

}  // namespace
