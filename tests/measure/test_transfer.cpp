#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <ohmtilt/measure/findings.h>
#include <ohmtilt/measure/sweep_transfer.h>
#include <ohmtilt/text/error.h>

#include "tests/measure/known_filter.h"

namespace ohmtilt {
namespace {

using namespace test;

// Random error of a frequency response by coherence and averages, computed in Python from
// J. S. Bendat and A. G. Piersol, Random Data, 2nd ed., p. 317: relative and in degrees.
TEST(RandomError, CoherenceTable) {
  const double table[][4] = {{0.9, 1, 0.235702, 13.505},
                             {0.9, 16, 0.058926, 3.376},
                             {0.99, 16, 0.017767, 1.018},
                             {0.999, 64, 0.0027965, 0.1602},
                             {0.9999, 100, 0.00070714, 0.0405}};
  for (const auto& [g2, n, relative, degrees] : table) {
    EXPECT_NEAR(random_relative_error(g2, n), relative, 1e-4 * relative);
    EXPECT_NEAR(random_relative_error(g2, n) * 180 / std::numbers::pi, degrees,
                1e-3 * degrees + 4e-5);
  }
  EXPECT_EQ(random_relative_error(1, 5), 0);
  EXPECT_TRUE(std::isinf(random_relative_error(0, 5)));
}

TEST(TransferByAverages, OfAKnownFilter) {
  for (const auto kind : {StimulusKind::noise, StimulusKind::multitone}) {
    const auto x = played(kind);
    EXPECT_LT(largest_error(transfer_by_averages(recording({x, filtered(x)}))), 2e-3);
  }
}

TEST(TransferByAverages, StatesItsUncertainty) {
  const auto x = played(StimulusKind::noise);
  const Transfer t = transfer_by_averages(recording({x, with_noise(filtered(x), 1e-3, 1)}));
  EXPECT_GT(coverage(t), 0.93);
  const double worst = (t.uncertainty / t.ratio.abs()).maxCoeff();
  EXPECT_LT(worst, 0.05);
  EXPECT_GT(worst, 0.001);
}

TEST(TransferByAverages, UnrelatedChannelsHaveNoCoherence) {
  const std::vector<float> nothing(480000, 0.0f);
  const Transfer t =
      transfer_by_averages(recording({with_noise(nothing, 0.1, 1), with_noise(nothing, 0.1, 2)}));
  EXPECT_LT(t.coherence.mean(), 0.3);
}

TEST(TransferByAverages, RefusesWhatIsTooShort) {
  const std::vector<float> x(48000, 0.1f);
  EXPECT_THROW(transfer_by_averages(recording({x, x})), InputError);
}

TEST(TransferBySweep, OfAKnownFilter) {
  const auto x = played(StimulusKind::sweep);
  const auto sweep = transfer_by_sweep(recording({x, filtered(x)}), recording({x}));
  EXPECT_LT(largest_error(sweep.transfer), 1e-4);
  EXPECT_NEAR(sweep.delay_seconds, 0, 1e-3);
  EXPECT_LT(sweep.drift.clock_ppm, 5);
  // From f to 2 f at 6 s over the octaves from 14.1 Hz to 22.4 kHz.
  EXPECT_NEAR(sweep.harmonic_seconds, 6 / std::log2(22400 * std::numbers::sqrt2 / 20), 0.05);
}

TEST(TransferBySweep, StatesItsUncertainty) {
  const auto x = played(StimulusKind::sweep);
  const auto sweep = transfer_by_sweep(
      recording({with_noise(x, 1e-4, 3), with_noise(filtered(x), 1e-4, 4)}), recording({x}));
  EXPECT_GT(coverage(sweep.transfer), 0.9);
  EXPECT_LT((sweep.transfer.uncertainty / sweep.transfer.ratio.abs()).maxCoeff(), 0.01);
}

// A harmonic comes early by the time of an octave and stays outside the gate; averaging keeps it.
TEST(TransferBySweep, HarmonicsAreGatedOut) {
  const auto x = played(StimulusKind::sweep);
  auto bent = filtered(x);
  for (float& y : bent) y += 0.05f * (2 * y * y / 0.25f);
  const TransferOptions upto{{20, 10000}, 48};  // above, harmonics fold back at this rate
  const auto sweep = transfer_by_sweep(recording({x, bent}), recording({x}), upto);
  EXPECT_LT(largest_error(sweep.transfer), 2e-3);
}

TEST(TransferBySweep, FindsADelay) {
  const auto x = played(StimulusKind::sweep);
  std::vector<float> late(12345, 0.0f);
  late.insert(late.end(), x.begin(), x.end());
  const auto sweep = transfer_by_sweep(recording({late, filtered(late)}), recording({x}));
  EXPECT_NEAR(sweep.delay_seconds, 12345.0 / 48000, 1e-3);
  EXPECT_LT(largest_error(sweep.transfer), 1e-4);
}

TEST(TransferBySweep, SeesADriftingClock) {
  const auto x = played(StimulusKind::sweep);
  const auto late = drifted(x);
  const auto sweep = transfer_by_sweep(recording({late, filtered(late)}), recording({x}));
  EXPECT_NEAR(sweep.drift.clock_ppm, 150, 15);
  ASSERT_EQ(sweep_findings(sweep).size(), 1u);
  EXPECT_EQ(sweep_findings(sweep)[0].kind, "clock");
  EXPECT_LT(largest_error(sweep.transfer), 1e-3);
}

TEST(TransferBySweep, MainsHumIsTakenOut) {
  const auto x = played(StimulusKind::sweep);
  auto y = filtered(x);
  for (std::size_t i = 0; i < y.size(); ++i)
    y[i] += static_cast<float>(
        1e-3 * std::sin(2 * std::numbers::pi * 59.97 * static_cast<double>(i) / 48000 + 1));
  const auto sweep = transfer_by_sweep(recording({x, y}), recording({x}));
  EXPECT_THAT(sweep.transfer.mains_hz, testing::ElementsAre(60));
  EXPECT_LT(largest_error(sweep.transfer), 2e-3);
  EXPECT_EQ(transfer_findings(sweep.transfer, false).at(0).kind, "mains");
}

TEST(TransferBySweep, RefusesWhatDoesNotFit) {
  const auto x = played(StimulusKind::sweep);
  const auto noise = played(StimulusKind::noise);
  EXPECT_THROW(transfer_by_sweep(recording({noise, noise}), recording({noise})), InputError);
  EXPECT_THROW(transfer_by_sweep(recording({noise, noise}), recording({x})), InputError);
  const std::vector<float> cut(x.begin(), x.end() - 48000);
  EXPECT_THROW(transfer_by_sweep(recording({cut, cut}), recording({x})), InputError);
  const std::vector<float> late(x.begin() + 48000, x.end());
  EXPECT_THROW(transfer_by_sweep(recording({late, late}), recording({x})), InputError);
  Recording other_rate = recording({x, x});
  other_rate.file_rate_hz = 44100;
  EXPECT_THROW(transfer_by_sweep(other_rate, recording({x})), InputError);
  const std::vector<float> nothing(x.size(), 0.0f);
  EXPECT_THROW(transfer_by_sweep(recording({nothing, nothing}), recording({x})), InputError);
  EXPECT_THROW(transfer_by_sweep(recording({x, x}), recording({nothing})), InputError);
}

TEST(TransferGrid, PointsAnOctave) {
  const Array hz = transfer_grid({{20, 20480}, 12});
  EXPECT_EQ(hz.size(), 121);
  EXPECT_NEAR(hz[12], 40, 1e-9);
  EXPECT_THROW(transfer_grid({{20, 20000}, 0}), InputError);
}

}  // namespace
}  // namespace ohmtilt
