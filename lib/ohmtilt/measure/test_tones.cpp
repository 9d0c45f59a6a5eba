#include <ohmtilt/base/array.h>
#include <ohmtilt/base/constants.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/measure/test_tones.h>
#include <algorithm>
#include <cmath>
#include <optional>

namespace ohmtilt {
namespace {

using Eigen::Index;

constexpr double tone_fade_seconds = 0.05;
// Of each tone, what is looked at: gains need a while to settle, and the last of it is the fade.
constexpr double looked_from = 0.4, looked_to = 0.88;
constexpr double tone_share = 0.99;  // of a tone's energy that is the tone
constexpr double least_db = 0.2, standard_errors = 5;

/// The complex amplitude under Hann's window, so many bins beside the tone's frequency.
Complex amplitude(const std::vector<float>& samples, Index first, Index count, double rate_hz,
                  double bins) {
  const double turn = two_pi * (test_tone_hz / rate_hz + bins / static_cast<double>(count));
  Complex sum = 0;
  for (Index i = 0; i < count; ++i) {
    const auto at = static_cast<double>(i);
    const double weight = 1 - std::cos(two_pi * (at + 0.5) / static_cast<double>(count));
    sum += weight * static_cast<double>(samples[static_cast<std::size_t>(first + i)]) *
           std::polar(1.0, -turn * at);
  }
  return 2.0 * sum / static_cast<double>(count);
}

/// One tone's gain and its standard error.
struct Gain {
  double gain = 0, error = 0;
};

struct ToneWindow {
  Index first, count;
};

Gain gain_in(const std::vector<float>& recorded, const ToneWindow& window, double rate_hz,
             double played) {
  const auto at = [&](double bins) {
    return std::abs(amplitude(recorded, window.first, window.count, rate_hz, bins));
  };
  double noise = 0;
  for (const double bins : {-9.0, -6.0, 6.0, 9.0}) noise += at(bins) * at(bins) / 4;
  return {at(0) / played, std::sqrt(noise) / played};
}

/// The looked-at part of one half of a stretch of sound.
ToneWindow tone_window(const Span& stretch, bool later) {
  const Index half = (stretch.last - stretch.first + 1) / 2;
  const double length = static_cast<double>(half);
  const Index start = stretch.first + (later ? half : 0);
  return {start + static_cast<Index>(looked_from * length),
          static_cast<Index>((looked_to - looked_from) * length)};
}

/// The amplitude of the tone that a window of the stimulus holds; nothing where it is none.
std::optional<double> played_tone(const std::vector<float>& stimulus, const ToneWindow& window,
                                  double rate_hz) {
  const double size = std::abs(amplitude(stimulus, window.first, window.count, rate_hz, 0));
  double energy = 0;
  for (Index i = 0; i < window.count; ++i)
    energy += std::pow(stimulus[static_cast<std::size_t>(window.first + i)], 2);
  const double tone = size * size / 2 * static_cast<double>(window.count);
  return tone > tone_share * energy && energy > 0 ? std::optional(size) : std::nullopt;
}

/// Both channels' gains for the loud and the soft tone of a pair.
struct Pair {
  std::array<Gain, 2> loud, soft;
};

std::optional<Pair> pair_at(const Recording& recording, const Recording& stimulus,
                            const Span& stretch, Index delay) {
  const double rate_hz = stimulus.rate_hz;
  const auto& played = stimulus.channels[0];
  Pair pair;
  std::array<double, 2> size{};
  std::array<ToneWindow, 2> windows{};
  for (const bool later : {false, true}) {
    windows[later] = tone_window(stretch, later);
    if (windows[later].count < 8) return std::nullopt;
    const auto tone = played_tone(played, windows[later], rate_hz);
    if (!tone) return std::nullopt;
    size[later] = *tone;
    windows[later].first += delay;
    if (windows[later].first < 0 || windows[later].first + windows[later].count >
                                        static_cast<Index>(recording.channels[0].size()))
      return std::nullopt;
  }
  if (!(std::max(size[0], size[1]) > 2 * std::min(size[0], size[1]))) return std::nullopt;
  const std::size_t loud = size[1] > size[0] ? 1 : 0, soft = 1 - loud;
  for (std::size_t c = 0; c < 2; ++c) {
    const auto& samples = recording.channels[c];
    pair.loud[c] = gain_in(samples, windows[loud], rate_hz, size[loud]);
    pair.soft[c] = gain_in(samples, windows[soft], rate_hz, size[soft]);
  }
  return pair;
}

/// One gain over another in dB, 0 where noise or usual unsteadiness covers it.
double over_db(const Gain& one, const Gain& other) {
  if (!(one.gain > standard_errors * one.error && other.gain > standard_errors * other.error))
    return 0;
  const double db = db_from_amplitude(one.gain / other.gain);
  const double error = db_per_neper * std::hypot(one.error / one.gain, other.error / other.gain);
  return std::abs(db) > least_db + standard_errors * error ? db : 0;
}

Gain ratio(const Gain& one, const Gain& other) {
  const double value = one.gain / other.gain;
  return {value, value * std::hypot(one.error / one.gain, other.error / other.gain)};
}

}  // namespace

std::vector<double> test_tone_pair(double rate_hz, bool soft_first) {
  const auto frames = static_cast<Index>(std::llround(test_tone_seconds * rate_hz));
  const double fade = tone_fade_seconds * rate_hz, soft = amplitude_from_db(-test_tone_step_db);
  std::vector<double> samples;
  for (Index i = 0; i < 2 * frames; ++i) {
    const bool first = i < frames;
    const auto place = static_cast<double>(first ? i : i - frames);
    const double edge =
        std::min({place + 0.5, static_cast<double>(frames) - place - 0.5, fade}) / fade;
    const double level = std::pow(std::sin(std::numbers::pi / 2 * edge), 2);
    samples.push_back((first == soft_first ? soft : 1) * level *
                      std::sin(two_pi * test_tone_hz * static_cast<double>(i) / rate_hz));
  }
  return samples;
}

double ToneGains::ratio_error(double ratio) const {
  const double most = std::max(std::abs(more_when_soft_db[0]), std::abs(more_when_soft_db[1]));
  const double per_db = most / test_tone_step_db;
  const double follows_db =
      per_db > 0 && ratio > 0 ? per_db * (std::abs(db_from_amplitude(ratio)) + 3) : 0;
  return amplitude_from_db(std::hypot(follows_db, drift_db)) - 1;
}

ToneGains tone_gains(const Recording& recording, const Recording& stimulus, double delay_seconds,
                     bool both) {
  const auto stretches = sounding_stretches(stimulus.channels[0], stimulus.rate_hz);
  const Span main = longest(stretches);
  const auto delay = static_cast<Index>(std::llround(delay_seconds * recording.rate_hz));
  std::optional<Pair> before, after;
  for (const Span& one : stretches)
    if (one.first != main.first)
      (one.first < main.first ? before : after) = pair_at(recording, stimulus, one, delay);
  ToneGains result;
  for (const auto* pair : {&before, &after}) {
    if (!*pair) continue;
    for (std::size_t c = 0; c < (both ? 2u : 1u); ++c) {
      const double db = over_db((*pair)->soft[c], (*pair)->loud[c]);
      if (std::abs(db) > std::abs(result.more_when_soft_db[c])) result.more_when_soft_db[c] = db;
    }
  }
  if (both && before && after)
    result.drift_db =
        over_db(ratio(after->loud[1], after->loud[0]), ratio(before->loud[1], before->loud[0]));
  return result;
}

}  // namespace ohmtilt
