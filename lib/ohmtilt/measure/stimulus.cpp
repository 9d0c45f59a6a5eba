#include <ohmtilt/base/constants.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/fourier.h>
#include <ohmtilt/measure/stimulus.h>
#include <ohmtilt/measure/test_tones.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>
#include <set>

namespace ohmtilt {
namespace {

void require(bool kept, const std::string& what, double value, const std::string& remedy) {
  if (!kept) throw InputError(what + " of " + number_text(value) + " is not allowed", remedy);
}

void check(const StimulusOptions& o) {
  require(o.rate_hz >= 8000 && o.rate_hz <= 768000 && o.rate_hz == std::floor(o.rate_hz),
          "a sample rate", o.rate_hz, "give a whole number of hertz from 8000 to 768000");
  require(o.seconds >= 1 && o.seconds <= 600, "a length", o.seconds, "give 1 to 600 seconds");
  require(o.level_dbfs >= -120 && o.level_dbfs <= 0, "a level", o.level_dbfs,
          "give -120 to 0 dB of full scale; start quiet");
  require(o.band.low_hz >= 1 && o.band.low_hz < o.band.high_hz, "a band from", o.band.low_hz,
          "give two frequencies in hertz, the lower first, from 1 Hz up");
  require(o.band.high_hz <= 0.47 * o.rate_hz, "a band up to", o.band.high_hz,
          "end it below 0.47 of the sample rate");
  for (const double silence : {o.lead_seconds, o.tail_seconds})
    require(silence >= 0 && silence <= 60, "a silence", silence, "give 0 to 60 seconds");
  require(o.tones_per_octave >= 3 && o.tones_per_octave <= 1000, "a tone density",
          o.tones_per_octave, "give 3 to 1000 tones an octave");
}

/// Rises from 0 to 1 over length, a quarter of a sine squared.
double fade(double place, double length) {
  if (place >= length) return 1;
  const double s = std::sin(std::numbers::pi / 2 * std::max(place, 0.0) / length);
  return s * s;
}

/// sin(2 pi f1 L exp(t/L)) with f1 L whole, so that every harmonic starts in phase [Novak2015]. The
/// fades lie outside the band.
std::vector<double> sweep(const StimulusOptions& o) {
  const double low_hz = o.band.low_hz / std::numbers::sqrt2;
  const double high_hz = std::min(o.band.high_hz * 1.12, 0.49 * o.rate_hz);
  const double octaves_seconds = o.seconds / std::log(high_hz / low_hz);
  const double scale = std::max(1.0, std::round(low_hz * octaves_seconds)) / low_hz;
  const auto frames =
      static_cast<long long>(std::floor(scale * std::log(high_hz / low_hz) * o.rate_hz));
  const double fade_in = scale * std::log(o.band.low_hz / low_hz) * 0.8;
  const double fade_out = scale * std::log(high_hz / o.band.high_hz) * 0.8;
  std::vector<double> samples(static_cast<std::size_t>(frames));
  for (long long i = 0; i < frames; ++i) {
    const double t = static_cast<double>(i) / o.rate_hz;
    const double cycles = low_hz * scale * std::exp(t / scale);
    const double left = static_cast<double>(frames - 1 - i) / o.rate_hz;
    samples[i] =
        fade(t, fade_in) * fade(left, fade_out) * std::sin(two_pi * std::fmod(cycles, 1.0));
  }
  return samples;
}

/// Odd lines, of which one in four neighbours is left out at random (J. Schoukens and R. Pintelon's
/// random-odd multisine, from memory): distortion of even order then falls between the lines, and
/// that of odd order shows where one is left out.
class OddLines {
 public:
  explicit OddLines(std::mt19937_64& generator) : generator_(generator) {}
  /// The first line from k on that may carry a tone. Ask for rising k.
  long long from(long long k) {
    k += 1 - k % 2;
    for (; group_ < k / 8; ++group_) left_out_ = static_cast<long long>(generator_() >> 62);
    return k / 2 % 4 == left_out_ ? from(k + 2) : k;
  }

 private:
  std::mt19937_64& generator_;
  long long group_ = -1, left_out_ = 0;
};

/// The lines of one period that carry a tone.
std::set<long long> lines(const StimulusOptions& o, double line_hz, std::mt19937_64& generator) {
  const auto first = static_cast<long long>(std::ceil(o.band.low_hz / line_hz / 1.1));
  const auto last =
      static_cast<long long>(std::min(o.band.high_hz * 1.05, 0.49 * o.rate_hz) / line_hz);
  const double step = o.kind == StimulusKind::noise ? 1 : std::exp2(1 / o.tones_per_octave);
  OddLines odd(generator);
  std::set<long long> chosen;
  for (long long k = odd.from(first); k <= last;) {
    chosen.insert(k);
    k = odd.from(std::max(k + 1, std::llround(static_cast<double>(k) * step)));
  }
  return chosen;
}

/// Amplitudes fall as 1/sqrt f for noise (pink); tones are equal, since they thin out by
/// themselves.
std::vector<double> periodic(const StimulusOptions& o) {
  const long long period = period_frames(o.rate_hz);
  std::mt19937_64 generator(o.seed);
  ComplexArray spectrum = ComplexArray::Zero(period);
  for (const long long k : lines(o, o.rate_hz / static_cast<double>(period), generator)) {
    const double turn = static_cast<double>(generator() >> 11) * 0x1p-53;
    const double size = o.kind == StimulusKind::noise ? 1 / std::sqrt(static_cast<double>(k)) : 1;
    spectrum[k] = std::polar(size, two_pi * turn);
    spectrum[period - k] = std::conj(spectrum[k]);
  }
  Fourier fourier(period);
  const ComplexArray& one = fourier.inverse(spectrum);
  const auto periods =
      std::max(1LL, std::llround(o.seconds * o.rate_hz / static_cast<double>(period)));
  const double fade_frames = 0.02 * o.rate_hz;
  std::vector<double> samples(static_cast<std::size_t>(periods * period));
  for (long long i = 0; i < periods * period; ++i)
    samples[i] = one[i % period].real() * fade(static_cast<double>(i), fade_frames) *
                 fade(static_cast<double>(periods * period - 1 - i), fade_frames);
  return samples;
}

}  // namespace

long long period_frames(double rate_hz) {
  return power_of_two_from(static_cast<Eigen::Index>(1.3 * rate_hz));
}

std::vector<float> stimulus_samples(const StimulusOptions& options) {
  check(options);
  const auto sound = options.kind == StimulusKind::sweep ? sweep(options) : periodic(options);
  double peak = 0;
  for (const double x : sound) peak = std::max(peak, std::abs(x));
  const double gain = amplitude_from_db(options.level_dbfs) / peak;
  const auto silence = [&](double seconds) {
    return std::vector<float>(static_cast<std::size_t>(std::round(seconds * options.rate_hz)),
                              0.0f);
  };
  std::vector<float> samples = silence(options.lead_seconds);
  const auto add = [&](const std::vector<float>& more) {
    samples.insert(samples.end(), more.begin(), more.end());
  };
  const bool tones = options.test_tones && options.band.low_hz < test_tone_hz &&
                     test_tone_hz < options.band.high_hz;
  const auto pair = [&](bool soft_first) {
    for (const double x : test_tone_pair(options.rate_hz, soft_first))
      samples.push_back(static_cast<float>(x * amplitude_from_db(options.level_dbfs)));
  };
  if (tones) {
    pair(true);
    add(silence(test_tone_gap_seconds));
  }
  for (const double x : sound) samples.push_back(static_cast<float>(x * gain));
  add(silence(options.tail_seconds));
  if (tones) {
    pair(false);
    add(silence(test_tone_gap_seconds));
  }
  return samples;
}

WavContent stimulus(const StimulusOptions& options) {
  return {stimulus_samples(options), static_cast<int>(options.rate_hz)};
}

}  // namespace ohmtilt
