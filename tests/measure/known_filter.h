#pragma once
// A filter of which the response is known exactly, recordings through it, and how far a transfer
// lies from it.
#include <ohmtilt/measure/recording.h>
#include <ohmtilt/measure/stimulus.h>
#include <ohmtilt/measure/transfer.h>
#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

namespace ohmtilt::test {

inline Recording recording(std::vector<std::vector<float>> channels) {
  Recording r;
  r.file = "made in memory";
  r.rate_hz = r.file_rate_hz = 48000;
  r.seconds = static_cast<double>(channels[0].size()) / 48000;
  for (const auto& channel : channels) {
    ChannelLevel level;
    for (const float x : channel)
      level.peak = std::max(level.peak, std::abs(static_cast<double>(x)));
    r.levels.push_back(level);
  }
  r.channels = std::move(channels);
  return r;
}

/// y[n] = 0.25 x[n] + 0.5 y[n-1], of which the response is known exactly.
inline std::vector<float> filtered(const std::vector<float>& x) {
  std::vector<float> y;
  double last = 0;
  for (const float sample : x) {
    last = 0.25 * static_cast<double>(sample) + 0.5 * last;
    y.push_back(static_cast<float>(last));
  }
  return y;
}
inline Complex response(double hz) {
  return 0.25 / (1.0 - 0.5 * std::polar(1.0, -2 * std::numbers::pi * hz / 48000));
}

inline std::vector<float> with_noise(std::vector<float> x, double rms, unsigned seed) {
  std::mt19937_64 generator(seed);
  std::normal_distribution<double> normal(0, rms);
  for (float& sample : x)
    sample = static_cast<float>(static_cast<double>(sample) + normal(generator));
  return x;
}

inline std::vector<float> played(StimulusKind kind, double seconds = 6) {
  StimulusOptions o;
  o.kind = kind;
  o.seconds = seconds;
  o.level_dbfs = -6;
  return stimulus_samples(o);
}

inline double largest_error(const Transfer& t) {
  double worst = 0;
  for (Eigen::Index i = 0; i < t.frequency_hz.size(); ++i)
    worst = std::max(worst, std::abs(t.ratio[i] / response(t.frequency_hz[i]) - 1.0));
  return worst;
}

inline double coverage(const Transfer& t) {
  double inside = 0;
  for (Eigen::Index i = 0; i < t.frequency_hz.size(); ++i) {
    const Complex error = t.ratio[i] - response(t.frequency_hz[i]);
    inside += (std::abs(error.real()) <= 2 * t.uncertainty[i]) +
              (std::abs(error.imag()) <= 2 * t.uncertainty[i]);
  }
  return inside / 2 / static_cast<double>(t.frequency_hz.size());
}

/// The same sound by a clock that is 150 millionths slower, by straight lines between samples.
inline std::vector<float> drifted(const std::vector<float>& x) {
  std::vector<float> slower;
  for (std::size_t i = 0; i + 2 < x.size(); ++i) {
    const double place = static_cast<double>(i) * (1 - 150e-6);
    const auto k = static_cast<std::size_t>(place);
    slower.push_back(x[k] + static_cast<float>(place - std::floor(place)) * (x[k + 1] - x[k]));
  }
  return slower;
}

}  // namespace ohmtilt::test
