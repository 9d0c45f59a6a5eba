#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <ohmtilt/measure/findings.h>
#include <ohmtilt/measure/periodic_transfer.h>
#include <ohmtilt/text/error.h>

#include "tests/measure/known_filter.h"

namespace ohmtilt {
namespace {

using namespace test;

constexpr Eigen::Index period = 65536;  // of the stimuli at 48 kHz

std::vector<float> periodic(StimulusKind kind) { return played(kind, 11); }

PeriodicTransfer periodic(const std::vector<float>& first, const std::vector<float>& second,
                          const std::vector<float>& stimulus) {
  return transfer_by_periods(recording({first, second}), recording({stimulus}), period);
}

TEST(RepeatedFrames, OfPeriodicStimuliOnly) {
  EXPECT_EQ(repeated_frames(recording({periodic(StimulusKind::noise)})), period);
  EXPECT_EQ(repeated_frames(recording({periodic(StimulusKind::multitone)})), period);
  EXPECT_EQ(repeated_frames(recording({periodic(StimulusKind::sweep)})), 0);
  const std::vector<float> nothing(480000, 0.0f);
  EXPECT_EQ(repeated_frames(recording({nothing})), 0);
  EXPECT_EQ(repeated_frames(recording({with_noise(nothing, 0.1, 1)})), 0);
  EXPECT_EQ(repeated_frames(recording({std::vector<float>(100, 0.1f)})), 0);
}

TEST(TransferByPeriods, OfAKnownFilter) {
  for (const auto kind : {StimulusKind::noise, StimulusKind::multitone}) {
    const auto x = periodic(kind);
    const PeriodicTransfer t = periodic(x, filtered(x), x);
    EXPECT_LT(largest_error(t.transfer), 1e-4);
    EXPECT_LT(t.clock_ppm, 0.01);
    EXPECT_LT(t.even_distortion, 1e-5);
    EXPECT_EQ(periodic_findings(t).size(), 0u);
  }
}

TEST(TransferByPeriods, DelayAndABeginningThatIsMissingDoNotMatter) {
  const auto x = periodic(StimulusKind::noise);
  std::vector<float> late(12345, 0.0f);
  late.insert(late.end(), x.begin(), x.end());
  EXPECT_LT(largest_error(periodic(late, filtered(late), x).transfer), 1e-4);
  const std::vector<float> cut(x.begin() + 50000, x.end());
  EXPECT_LT(largest_error(periodic(cut, filtered(cut), x).transfer), 1e-4);
}

TEST(TransferByPeriods, StatesItsUncertainty) {
  for (const auto kind : {StimulusKind::noise, StimulusKind::multitone}) {
    const auto x = periodic(kind);
    const PeriodicTransfer t =
        periodic(with_noise(x, 1e-4, 3), with_noise(filtered(x), 1e-3, 4), x);
    EXPECT_GT(coverage(t.transfer), 0.95);
    const double worst = (t.transfer.uncertainty / t.transfer.ratio.abs()).maxCoeff();
    EXPECT_LT(worst, 0.05);
    EXPECT_GT(worst, 5e-4);
  }
}

// x + a x^2 puts everything on even lines. Of a normal distribution E (x^2 - E x^2)^2 = 2 (E
// x^2)^2, so the rms of the distortion over that of x is a sqrt 2 rms(x); noise of many lines is
// normal.
TEST(TransferByPeriods, EvenOrdersStayOffTheLines) {
  const auto x = periodic(StimulusKind::noise);
  double energy = 0, sounding = 0;
  auto bent = x;
  for (std::size_t i = 0; i < x.size(); ++i) {
    bent[i] += 0.1f * x[i] * x[i];
    energy += x[i] * x[i];
    sounding += x[i] != 0;
  }
  const PeriodicTransfer t = periodic(x, bent, x);
  EXPECT_LT((t.transfer.ratio - 1.0).abs().maxCoeff(), 1e-4);
  EXPECT_NEAR(t.even_distortion / (0.1 * std::sqrt(2 * energy / sounding)), 1, 0.15);
  EXPECT_LT(t.odd_distortion, t.even_distortion / 50);
  ASSERT_EQ(periodic_findings(t).size(), 1u);
  EXPECT_EQ(periodic_findings(t)[0].kind, "distortion");
}

// x^3 falls on odd lines: it changes the result, is seen where a line is left out, and widens the
// stated uncertainty so far that it still covers the average gain 1 + 3 a rms^2.
TEST(TransferByPeriods, OddOrdersShowAtLinesLeftOut) {
  const auto x = periodic(StimulusKind::noise);
  double energy = 0, sounding = 0;
  auto bent = x;
  for (std::size_t i = 0; i < x.size(); ++i) {
    bent[i] += x[i] * x[i] * x[i];
    energy += x[i] * x[i];
    sounding += x[i] != 0;
  }
  const double power = energy / sounding;
  const PeriodicTransfer t = periodic(x, bent, x);
  EXPECT_NEAR(t.odd_distortion / (std::sqrt(6.0) * power), 1,
              0.2);  // E h3(x)^2 = 6 of a unit normal
  double inside = 0;
  for (Eigen::Index i = 0; i < t.transfer.ratio.size(); ++i)
    inside += std::abs(t.transfer.ratio[i] - (1 + 3 * power)) <= 2.5 * t.transfer.uncertainty[i];
  EXPECT_GT(inside / static_cast<double>(t.transfer.ratio.size()), 0.9);
}

TEST(TransferByPeriods, SeesADriftingClock) {
  const auto x = periodic(StimulusKind::noise);
  const auto late = drifted(x);
  const PeriodicTransfer t = periodic(late, filtered(late), x);
  EXPECT_NEAR(t.clock_ppm, 150, 1);
  EXPECT_EQ(periodic_findings(t).at(0).kind, "clock");
  const TransferOptions low{{20, 2000}, 48};
  const auto below =
      transfer_by_periods(recording({late, filtered(late)}), recording({x}), period, low);
  EXPECT_LT(largest_error(below.transfer), 0.01);
}

TEST(TransferByPeriods, TellsOnlyRisingProgress) {
  const auto x = periodic(StimulusKind::noise);
  std::vector<double> told;
  TransferOptions options;
  options.progress = [&](double done) { told.push_back(done); };
  transfer_by_periods(recording({x, x}), recording({x}), period, options);
  EXPECT_FALSE(told.empty());
  EXPECT_TRUE(std::is_sorted(told.begin(), told.end()));
}

TEST(TransferByPeriods, RefusesWhatDoesNotFit) {
  const auto x = periodic(StimulusKind::noise);
  const std::vector<float> brief(x.begin(), x.begin() + 4 * period);
  EXPECT_THROW(periodic(brief, brief, x), InputError);
  const std::vector<float> nothing(x.size(), 0.0f);
  EXPECT_THROW(periodic(nothing, nothing, x), InputError);
  const auto other = with_noise(nothing, 0.1, 1);
  EXPECT_THROW(periodic(other, other, x), InputError);
  Recording other_rate = recording({x, x});
  other_rate.file_rate_hz = 44100;
  EXPECT_THROW(transfer_by_periods(other_rate, recording({x}), period), InputError);
}

}  // namespace
}  // namespace ohmtilt
