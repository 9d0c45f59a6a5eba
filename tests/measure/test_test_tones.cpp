// Gains in closed form on the stimulus's own tones.
#include <gtest/gtest.h>

#include <ohmtilt/base/decibel.h>
#include <ohmtilt/measure/test_tones.h>
#include <functional>

#include "tests/measure/known_filter.h"

namespace ohmtilt {
namespace {

std::vector<float> toned(StimulusKind kind = StimulusKind::sweep, Band band = {20, 20000}) {
  StimulusOptions o;
  o.kind = kind;
  o.seconds = kind == StimulusKind::sweep ? 2 : 6;
  o.level_dbfs = -12;
  o.band = band;
  o.test_tones = true;
  return stimulus_samples(o);
}

/// The gain over the mean size of the last hundredth of a second.
std::vector<float> with_gain(const std::vector<float>& x,
                             const std::function<double(double, double)>& of) {
  std::vector<float> y;
  double size = 0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    size += (std::abs(static_cast<double>(x[i])) - size) / 480;
    y.push_back(
        static_cast<float>(static_cast<double>(x[i]) *
                           of(size, static_cast<double>(i) / static_cast<double>(x.size()))));
  }
  return y;
}

ToneGains gains_of(const std::vector<float>& played, std::vector<float> first,
                   std::vector<float> second) {
  return tone_gains(test::recording({std::move(first), std::move(second)}),
                    test::recording({played}), 0, true);
}

TEST(TestTones, StandOutsideTheSoundAndKeepItsLevel) {
  for (const auto kind : {StimulusKind::sweep, StimulusKind::multitone, StimulusKind::noise}) {
    const auto samples = toned(kind);
    StimulusOptions bare;
    bare.kind = kind;
    bare.seconds = kind == StimulusKind::sweep ? 2 : 6;
    bare.level_dbfs = -12;
    const auto sound = stimulus_samples(bare);
    EXPECT_EQ(sounding_stretches(samples, 48000).size(), 3u);
    const Span main = main_sound(samples, 48000), alone = main_sound(sound, 48000);
    ASSERT_EQ(main.last - main.first, alone.last - alone.first);
    for (Eigen::Index i = 0; i <= main.last - main.first; i += 97)
      EXPECT_EQ(samples[main.first + i], sound[alone.first + i]);
    float peak = 0;
    for (const float x : samples) peak = std::max(peak, std::abs(x));
    EXPECT_NEAR(db_from_amplitude(static_cast<double>(peak)), -12, 0.01);
  }
}

TEST(TestTones, ABandWithoutTheirFrequencyHasNone) {
  EXPECT_EQ(sounding_stretches(toned(StimulusKind::sweep, {2000, 20000}), 48000).size(), 1u);
}

TEST(TestTones, LinearChannelsShowNothing) {
  const auto x = toned();
  const ToneGains gains =
      gains_of(x, test::with_noise(x, 1e-4, 1), test::with_noise(test::filtered(x), 1e-4, 2));
  EXPECT_EQ(gains.more_when_soft_db[0], 0);
  EXPECT_EQ(gains.more_when_soft_db[1], 0);
  EXPECT_EQ(gains.drift_db, 0);
  EXPECT_EQ(gains.ratio_error(0.1), 0);
}

// A gain of level^-s has 20 s dB more for a tone 20 dB softer.
TEST(TestTones, AGainThatFollowsTheLevelShowsInItsOwnChannel) {
  const auto x = toned();
  for (const double s : {0.05, 0.3, 0.7, 1.0}) {
    const auto y =
        with_gain(x, [s](double size, double) { return std::pow(std::max(size, 1e-4), -s); });
    EXPECT_NEAR(gains_of(x, x, y).more_when_soft_db[1], 20 * s, 0.02) << s;
    EXPECT_EQ(gains_of(x, x, y).more_when_soft_db[0], 0);
    EXPECT_NEAR(gains_of(x, y, x).more_when_soft_db[0], 20 * s, 0.02) << s;
    // What such a gain makes of a ratio of the channels' levels.
    for (const double ratio : {0.05, 0.5, 0.9})
      EXPECT_GE(gains_of(x, y, y).ratio_error(ratio), std::pow(ratio, -s) - 1);
  }
}

TEST(TestTones, AGainThatDriftsShowsBetweenBeforeAndAfter) {
  const auto x = toned();
  const auto y = with_gain(x, [](double, double place) { return std::pow(1.26, place); });
  const ToneGains gains = gains_of(x, x, y);
  EXPECT_GT(gains.drift_db, 1);
  EXPECT_LT(gains.drift_db, 2);
  // Both channels alike: the ratio is none the worse.
  EXPECT_EQ(gains_of(x, y, y).drift_db, 0);
}

TEST(TestTones, ARecordingThatEndsTooEarlyHasThoseBeforeOnly) {
  auto x = toned();
  auto y = with_gain(x, [](double size, double) { return 1 / std::max(size, 1e-4); });
  y.resize(x.size() - 60000);
  EXPECT_NEAR(gains_of(x, y, y).more_when_soft_db[0], 20, 0.02);
}

TEST(TestTones, AnOlderStimulusHasNone) {
  const auto x = test::played(StimulusKind::sweep, 2);
  const auto y = with_gain(x, [](double size, double) { return 1 / std::max(size, 1e-4); });
  EXPECT_EQ(gains_of(x, y, x).more_when_soft_db[0], 0);
}

}  // namespace
}  // namespace ohmtilt
