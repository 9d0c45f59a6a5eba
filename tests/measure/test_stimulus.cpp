#include <gtest/gtest.h>

#include <ohmtilt/base/fourier.h>
#include <ohmtilt/measure/stimulus.h>
#include <ohmtilt/text/error.h>
#include <algorithm>
#include <cmath>
#include <numbers>

namespace ohmtilt {
namespace {

float peak(const std::vector<float>& samples) {
  float result = 0;
  for (const float x : samples) result = std::max(result, std::abs(x));
  return result;
}

StimulusOptions options(StimulusKind kind) {
  StimulusOptions o;
  o.kind = kind;
  o.seconds = 3;
  return o;
}

TEST(Fourier, ClosedFormsAndTheWayBack) {
  ComplexArray x = ComplexArray::Zero(8);
  x[1] = 1;  // a delayed pulse: exp(-j 2 pi k/8)
  Fourier fourier(8);
  const ComplexArray spectrum = fourier.forward(x);
  for (Eigen::Index k = 0; k < 8; ++k)
    EXPECT_LT(
        std::abs(spectrum[k] - std::polar(1.0, -std::numbers::pi * static_cast<double>(k) / 4)),
        1e-15);
  EXPECT_LT((fourier.inverse(spectrum) - x).abs().maxCoeff(), 1e-15);
}

TEST(Fourier, OneTransformForTwoSignals) {
  const Eigen::Index n = 16;
  ComplexArray both(n), first(n), second(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    first[i] = std::sin(0.3 * static_cast<double>(i * i));
    second[i] = 1.0 / static_cast<double>(i + 1);
    both[i] = first[i] + Complex(0, 1) * second[i];
  }
  Fourier fourier(n);
  const PairSpectra pair = pair_spectra(fourier.forward(both));
  EXPECT_LT((pair.first - ComplexArray(fourier.forward(first)).head(9)).abs().maxCoeff(), 1e-14);
  EXPECT_LT((pair.second - ComplexArray(fourier.forward(second)).head(9)).abs().maxCoeff(), 1e-14);
}

TEST(Stimulus, StartsQuietAndKeepsItsLevel) {
  for (const auto kind : {StimulusKind::sweep, StimulusKind::multitone, StimulusKind::noise}) {
    const auto samples = stimulus_samples(options(kind));
    EXPECT_NEAR(20 * std::log10(peak(samples)), -30, 0.01);
    EXPECT_EQ(*std::max_element(samples.begin(), samples.begin() + 24000), 0);
    EXPECT_EQ(*std::max_element(samples.end() - 48000, samples.end()), 0);
    EXPECT_LT(std::abs(samples[24010]), 0.001f * peak(samples));
  }
}

// sin(2 pi f1 L exp(t/L)) crosses zero upwards wherever exp(t/L) is a whole number m, since f1 L is
// whole: there the sweep passes m f1, and harmonic m starts as the fundamental did.
TEST(Stimulus, TheSweepIsSynchronised) {
  StimulusOptions o = options(StimulusKind::sweep);
  const auto samples = stimulus_samples(o);
  const double f1 = 20 / std::numbers::sqrt2, f2 = 22400;
  const double scale = std::round(f1 * o.seconds / std::log(f2 / f1)) / f1;
  for (const double m : {4.0, 10.0, 40.0, 100.0}) {
    const double at = (0.5 + scale * std::log(m)) * o.rate_hz;
    const auto i = static_cast<std::size_t>(at);
    EXPECT_NEAR(samples[i] + (samples[i + 1] - samples[i]) * (at - std::floor(at)), 0,
                0.03 * peak(samples))
        << m;
    EXPECT_GT(samples[i + 1], samples[i]) << m;
  }
}

TEST(Stimulus, TheSeedDecides) {
  for (const auto kind : {StimulusKind::multitone, StimulusKind::noise}) {
    StimulusOptions o = options(kind);
    const auto one = stimulus_samples(o);
    EXPECT_EQ(one, stimulus_samples(o));
    o.seed = 2;
    EXPECT_NE(one, stimulus_samples(o));
  }
}

TEST(Stimulus, PeriodicKindsRepeatAndStayInTheirBand) {
  StimulusOptions o = options(StimulusKind::noise);
  o.band = {100, 5000};
  o.lead_seconds = o.tail_seconds = 0;
  const auto samples = stimulus_samples(o);
  const auto period = static_cast<std::size_t>(period_frames(o.rate_hz));
  ASSERT_GE(samples.size(), 2 * period);
  for (std::size_t i = 2000; i < period - 2000; i += 997)
    EXPECT_EQ(samples[i], samples[i + period]);
  ComplexArray one(static_cast<Eigen::Index>(period));
  for (std::size_t i = 0; i < period; ++i)
    one[static_cast<Eigen::Index>(i)] = samples[i + period / 2];
  Fourier fourier(one.size());
  const Array power = fourier.forward(one).abs2().head(one.size() / 2);
  const double line_hz = o.rate_hz / static_cast<double>(period);
  const auto bin = [&](double hz) { return static_cast<Eigen::Index>(hz / line_hz); };
  const double inside = power.segment(bin(100), bin(5000) - bin(100)).sum();
  EXPECT_LT(power.head(bin(80)).sum() / inside, 1e-9);
  EXPECT_LT(power.tail(power.size() - bin(5300)).sum() / inside, 1e-9);
  // Pink: equal power in every octave.
  EXPECT_NEAR(power.segment(bin(200), bin(400) - bin(200)).sum() /
                  power.segment(bin(2000), bin(4000) - bin(2000)).sum(),
              1, 0.02);
}

// No even line carries anything, and of four odd neighbours one is left out.
TEST(Stimulus, PeriodicKindsUseOddLinesOnly) {
  for (const auto kind : {StimulusKind::multitone, StimulusKind::noise}) {
    StimulusOptions o = options(kind);
    o.lead_seconds = o.tail_seconds = 0;
    o.seconds = 4;
    const auto samples = stimulus_samples(o);
    const auto period = static_cast<Eigen::Index>(period_frames(o.rate_hz));
    ComplexArray one(period);
    for (Eigen::Index i = 0; i < period; ++i) one[i] = samples[i + period];
    Fourier fourier(period);
    const Array power = fourier.forward(one).abs2().head(period / 2);
    double even = 0, odd = 0;
    for (Eigen::Index k = 0; k < power.size(); ++k) (k % 2 ? odd : even) += power[k];
    EXPECT_LT(even / odd, 1e-10);
    const double line_hz = o.rate_hz / static_cast<double>(period);
    const auto group = static_cast<Eigen::Index>(100 / line_hz) / 8;
    for (Eigen::Index g = group; g < group + 20; ++g) {
      int sounding = 0;
      for (Eigen::Index k = 8 * g + 1; k < 8 * g + 8; k += 2) sounding += power[k] > 1e-6 * odd;
      EXPECT_LE(sounding, 3) << g;
      EXPECT_GE(sounding, kind == StimulusKind::noise ? 3 : 1) << g;
    }
  }
}

TEST(Stimulus, RefusesWhatCannotBe) {
  const auto refused = [](auto change) {
    StimulusOptions o;
    change(o);
    EXPECT_THROW(stimulus_samples(o), InputError);
  };
  refused([](auto& o) { o.level_dbfs = 3; });
  refused([](auto& o) { o.seconds = 0; });
  refused([](auto& o) { o.seconds = 1e9; });
  refused([](auto& o) { o.rate_hz = 44100.5; });
  refused([](auto& o) { o.band = {20, 24000}; });
  refused([](auto& o) { o.band = {200, 100}; });
  refused([](auto& o) { o.band = {0, 100}; });
  refused([](auto& o) { o.tail_seconds = -1; });
  refused([](auto& o) { o.level_dbfs = std::nan(""); });
}

}  // namespace
}  // namespace ohmtilt
