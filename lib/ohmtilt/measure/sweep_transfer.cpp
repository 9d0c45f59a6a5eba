#include <ohmtilt/base/fourier.h>
#include <ohmtilt/measure/active_segment.h>
#include <ohmtilt/measure/alignment.h>
#include <ohmtilt/measure/deconvolution.h>
#include <ohmtilt/measure/mains.h>
#include <ohmtilt/measure/sweep_harmonics.h>
#include <ohmtilt/measure/sweep_transfer.h>
#include <ohmtilt/measure/third_octave_smoothing.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <vector>

namespace ohmtilt {
namespace {

using Eigen::Index;

constexpr int finer = 4;  // spectra of the gated lags have this many bins a line
constexpr double sweep_line_half_width_bins = 7;
constexpr Index noise_windows = 2;

std::string rounded(double seconds) { return number_text(std::round(seconds * 100) / 100); }

/// A sweep has a constant envelope; other signals lie far below.
void check_stimulus(const Recording& stimulus, const Span& sound) {
  const double share = rms_over_peak(stimulus.channels[0], sound);
  if (!(share > 0))
    throw InputError(Place{stimulus.file}, "it is silent", "give the sound that was played");
  if (share < least_sweep_share || share > 0.8)
    throw InputError(Place{stimulus.file}, "it is neither a sweep nor periodic",
                     "leave the stimulus out; averaging serves any steady sound");
}

/// exp(j radian_per_lag lag) for one lag after another.
class Wave {
 public:
  Wave(double radian_per_lag, Index lag)
      : radian_per_lag_(radian_per_lag), step_(std::polar(1.0, radian_per_lag)), lag_(lag) {}
  Complex next() {
    // Turning step by step is quick; setting it anew keeps the rounding errors from adding up.
    value_ = count_++ % 256 == 0
                 ? std::polar(1.0, radian_per_lag_ * static_cast<double>(lag_))
                 : Complex(value_.real() * step_.real() - value_.imag() * step_.imag(),
                           value_.real() * step_.imag() + value_.imag() * step_.real());
    ++lag_;
    return value_;
  }

 private:
  double radian_per_lag_;
  Complex step_, value_;
  Index lag_, count_ = 0;
};

/// What the later lags hold at one frequency: both channels, in two successive windows.
struct Line {
  std::array<Complex, 2> first, second;
};

/// Hann-weighted amplitudes at radian_per_lag in the two windows after the gate; the phase counts
/// from lag 0 throughout.
Line line_at(Lags& lags, const GateSpan& span, double radian_per_lag) {
  Line line{};
  const Array weight = hann(span.length) * (2 / static_cast<double>(span.length));
  for (Index w = 0; w < 2; ++w) {
    const Index start = (w + 1) * span.length - span.before;
    Wave wave(-radian_per_lag, start);
    for (Index i = 0; i < span.length; ++i) {
      const Complex turn = weight[i] * wave.next();
      line.first[w] += turn * lags[start + i].real();
      line.second[w] += turn * lags[start + i].imag();
    }
  }
  return line;
}

/// Power of both channels over frequency, in the two windows after the gate together.
Array later_power(Lags& lags, const GateSpan& span) {
  const Array weight = hann(span.length);
  Fourier fourier(span.length);
  Array power = Array::Zero(span.length / 2 + 1);
  for (Index w = 1; w <= 2; ++w) {
    ComplexArray window(span.length);
    for (Index i = 0; i < span.length; ++i)
      window[i] = weight[i] * lags[i - span.before + w * span.length];
    const PairSpectra pair = pair_spectra(fourier.forward(window));
    power += pair.first.abs2() + pair.second.abs2();
  }
  return power;
}

/// A line stands out where it holds twenty times the power found four to seven bins beside it.
bool stands_out(const Array& power, double bin) {
  const auto k = static_cast<Index>(std::llround(bin));
  if (k < 8 || k + 8 > power.size()) return false;
  const double beside = (power.segment(k - 7, 4).mean() + power.segment(k + 4, 4).mean()) / 2;
  return power.segment(k - 1, 3).maxCoeff() > 20 * beside;
}

/// Mains hum is a plain sinusoid over the lags: its frequency follows from the phase between the
/// two windows after the gate, its amplitudes from their mean, and what they make at all lags is
/// taken away.
void subtract_line(Lags& lags, const GateSpan& span, double radian_per_lag) {
  const Line rough = line_at(lags, span, radian_per_lag);
  const Complex turn =
      rough.first[1] * std::conj(rough.first[0]) + rough.second[1] * std::conj(rough.second[0]);
  const double exact = radian_per_lag + std::arg(turn) / static_cast<double>(span.length);
  const Line line = line_at(lags, span, exact);
  const Complex first = (line.first[0] + line.first[1]) / 2.0;
  const Complex second = (line.second[0] + line.second[1]) / 2.0;
  Wave wave(exact, -span.before);
  for (Index lag = -span.before; lag < 3 * span.length - span.before; ++lag) {
    const Complex turn_here = wave.next();
    lags[lag] -= Complex((first * turn_here).real(), (second * turn_here).real());
  }
}

/// Takes out the multiples of 50 and 60 Hz up to 1 kHz that stand out, and names them.
std::vector<double> subtract_hum(Lags& lags, const GateSpan& span, double rate_hz) {
  const double radian_per_hz = 2 * std::numbers::pi / rate_hz;
  const Array power = later_power(lags, span);
  std::vector<double> found;
  for (const double base_hz : {50.0, 60.0})
    for (double hz = base_hz; hz <= 1000; hz += base_hz) {
      if (std::count(found.begin(), found.end(), hz) > 0 ||
          !stands_out(power, hz * static_cast<double>(span.length) / rate_hz))
        continue;
      subtract_line(lags, span, hz * radian_per_hz);
      found.push_back(hz);
    }
  std::sort(found.begin(), found.end());
  return found;
}

/// Spectra of the lags that a gate lets through, of both channels.
class Gates {
 public:
  Gates(Lags lags, const GateSpan& span, Index bins)
      : lags_(std::move(lags)),
        span_(span),
        bins_(bins),
        shape_(gate_shape(span)),
        fourier_(finer * span.length),
        linear_(shaped(shape_, 0)) {}

  /// The linear response.
  const PairSpectra& linear() const { return linear_; }
  const GateSpan& span() const { return span_; }
  /// The same gate one and two lengths later.
  PairSpectra later(Index which) { return shaped(shape_, which); }
  /// Both channels in a short window of lags that starts so many samples after the response.
  PairSpectra window(Index start, const Array& shape) {
    ComplexArray gated = ComplexArray::Zero(finer * span_.length);
    for (Index i = 0; i < shape.size(); ++i) gated[i] = shape[i] * lags_[start + i];
    const PairSpectra pair = pair_spectra(fourier_.forward(gated));
    return {pair.first.head(bins_), pair.second.head(bins_)};
  }
  /// The linear response through a gate that is narrower by its own shape.
  PairSpectra narrower() { return shaped(shape_.square(), 0); }

 private:
  PairSpectra shaped(const Array& shape, Index which) {
    ComplexArray gated = ComplexArray::Zero(finer * span_.length);
    for (Index i = 0; i < span_.length; ++i)
      gated[i] = shape[i] * lags_[i - span_.before + which * span_.length];
    const PairSpectra pair = pair_spectra(fourier_.forward(gated));
    return {pair.first.head(bins_), pair.second.head(bins_)};
  }

  Lags lags_;
  GateSpan span_;
  Index bins_;
  Array shape_;
  Fourier fourier_;
  PairSpectra linear_;
};

PairPower power_of(const PairSpectra& pair, double bin_hz) {
  return {bin_hz, pair.first.abs2(), pair.second.abs2(), pair.first.conjugate() * pair.second};
}

/// Mean delay over each third of an octave from 125 Hz on, in seconds.
std::vector<double> delays_by_thirds(const ComplexArray& spectrum, double bin_hz,
                                     const Band& band) {
  std::vector<double> delays;
  const double third = std::cbrt(2.0);
  for (double hz = 125; third * hz <= band.high_hz; hz *= third) {
    if (hz < band.low_hz) continue;
    const auto first = static_cast<Index>(hz / bin_hz);
    const Index n =
        std::min(static_cast<Index>((third - 1) * hz / bin_hz), spectrum.size() - first - 1);
    const Complex turn =
        (spectrum.segment(first + 1, n) * spectrum.segment(first, n).conjugate()).sum();
    delays.push_back(-std::arg(turn) / (2 * std::numbers::pi * bin_hz));
  }
  return delays;
}

/// Sum of squares about the mean of values first .. last-1.
double spread(const std::vector<double>& values, std::size_t first, std::size_t last) {
  double mean = 0, sum = 0;
  for (std::size_t i = first; i < last; ++i) mean += values[i] / static_cast<double>(last - first);
  for (std::size_t i = first; i < last; ++i) sum += std::pow(values[i] - mean, 2);
  return sum;
}

/// The delays of the first channel, or of the source behind it where that explains nearly all of
/// their spread: a source of impedance k R has V1 + k (V1 - V2) with the earphone across channel 2,
/// V1 + k V2 with the reference there, and a load's own delay is no clock's.
std::vector<double> delays_without_load(const PairSpectra& pair, double bin_hz, const Band& band) {
  constexpr double explained = 0.25, small_seconds = 1e-6;
  std::vector<double> best = delays_by_thirds(pair.first, bin_hz, band);
  const double own = spread(best, 0, best.size());
  if (own < static_cast<double>(best.size()) * small_seconds * small_seconds) return best;
  double least = explained * own;
  for (double k = 0.05; k < 5; k *= 2)
    for (const bool at_load : {true, false}) {
      const double first = at_load ? 1 + k : 1, second = at_load ? -k : k;
      std::vector<double> delays =
          delays_by_thirds(first * pair.first + second * pair.second, bin_hz, band);
      const double left = spread(delays, 0, delays.size());
      if (!(left < least)) continue;
      least = left;
      best = std::move(delays);
    }
  return best;
}

/// A clock that runs at another speed makes the delay rise evenly with the time at which the sweep
/// passes each third of an octave; samples that were lost make one step.
Drift drift(const PairSpectra& pair, double bin_hz, const Band& band, double octave_time) {
  const std::vector<double> delays = delays_without_load(pair, bin_hz, band);
  const std::size_t n = delays.size();
  if (n < 6) return {};
  const double middle = static_cast<double>(n - 1) / 2;
  double product = 0, squares = 0;
  for (std::size_t i = 0; i < n; ++i) {
    product += (static_cast<double>(i) - middle) * delays[i];
    squares += std::pow(static_cast<double>(i) - middle, 2);
  }
  const double about_line = spread(delays, 0, n) - product * product / squares;
  std::size_t step = 1;
  double about_step = std::numeric_limits<double>::infinity();
  for (std::size_t k = 1; k < n; ++k) {
    const double sum = spread(delays, 0, k) + spread(delays, k, n);
    if (sum < about_step) {
      about_step = sum;
      step = k;
    }
  }
  Drift result;
  result.clock_ppm = std::abs(product / squares / (octave_time / 3)) * 1e6;
  if (about_step < 0.25 * about_line) {
    double before = 0, after = 0;
    for (std::size_t i = 0; i < n; ++i)
      (i < step ? before : after) += delays[i] / static_cast<double>(i < step ? step : n - step);
    result.step_seconds = after - before;
    result.step_hz = std::max(125.0, band.low_hz) * std::exp2(static_cast<double>(step) / 3);
  }
  return result;
}

/// Level of the first channel's response in dB, of any scale, in bands of a sixth of an octave.
Array first_level(const PairSpectra& pair, double bin_hz, const Array& hz) {
  constexpr double half = 1.06;
  Array level(hz.size());
  for (Index i = 0; i < hz.size(); ++i) {
    const auto first = static_cast<Index>(hz[i] / half / bin_hz);
    const auto last = std::min(pair.first.size() - 1, static_cast<Index>(hz[i] * half / bin_hz));
    level[i] = 10 * std::log10(std::max(pair.first.segment(first, last - first + 1).abs2().mean(),
                                        1e-300));
  }
  return level;
}

struct Noise {
  Array error_power;  ///< |error of the ratio|^2 at one frequency, mean over the windows
  Array bin_power;    ///< |second - ratio first|^2 a bin
};

Noise noise(Gates& gates, const std::vector<LocalFit>& fits, const ComplexArray& ratio) {
  const auto n = static_cast<Index>(fits.size());
  Noise sum{Array::Zero(n), Array::Zero(n)};
  const PairSpectra& signal = gates.linear();
  for (Index w = 1; w <= noise_windows; ++w) {
    const PairSpectra later = gates.later(w);
    const ComplexArray first = signal.first.conjugate() * later.first;
    const ComplexArray second = signal.first.conjugate() * later.second;
    for (Index i = 0; i < n; ++i) {
      const LocalFit& fit = fits[static_cast<std::size_t>(i)];
      sum.error_power[i] += std::norm(fit.value(second) - ratio[i] * fit.value(first));
      sum.bin_power[i] += (later.second.segment(fit.first_bin, fit.bins()) -
                           ratio[i] * later.first.segment(fit.first_bin, fit.bins()))
                              .abs2()
                              .mean();
    }
  }
  return {sum.error_power / noise_windows, sum.bin_power / noise_windows};
}

/// How far the ratio moves when the gate narrows, squared: what cutting the response may have done.
Array gate_error_power(Gates& gates, double bin_hz, const std::vector<bool>& left_out,
                       const Transfer& result, const LocalFitOptions& local) {
  const PairPower power = power_of(gates.narrower(), bin_hz);
  Array moved(result.frequency_hz.size());
  for (Index i = 0; i < moved.size(); ++i) {
    const LocalFit fit = local_fit(power, result.frequency_hz[i], left_out, local);
    moved[i] = std::norm(fit.value(power.cross) - result.ratio[i]);
  }
  return moved;
}

/// Mean power within a sixth of an octave of each frequency.
Array power_around(const ComplexArray& spectrum, double bin_hz, const Array& hz) {
  constexpr double half = 1.06;
  Array power(hz.size());
  for (Index i = 0; i < hz.size(); ++i) {
    const auto first = static_cast<Index>(hz[i] / half / bin_hz);
    const auto last = std::min(spectrum.size() - 1, static_cast<Index>(hz[i] * half / bin_hz));
    power[i] = last > first ? spectrum.segment(first, last - first + 1).abs2().mean() : 0;
  }
  return power;
}

/// What the second channel holds, beyond the ratio times the first, shortly before the response,
/// where a system that does not know its future holds noise only.
Array early_part(Gates& gates, double bin_hz, double rate_hz, const Array& hz) {
  constexpr double first_seconds = -0.060, last_seconds = -0.004, lowest_hz = 500;
  constexpr double least_over_noise = 6;
  const auto frames = [&](double seconds) {
    return static_cast<Index>(std::llround(seconds * rate_hz));
  };
  const Array shape = hann(frames(last_seconds - first_seconds));
  const PairSpectra& linear = gates.linear();
  const ComplexArray ratio = linear.second / linear.first;
  const auto beyond = [&](Index start) {
    const PairSpectra found = gates.window(start, shape);
    return power_around(found.second - ratio * found.first, bin_hz, hz);
  };
  const Array before = beyond(frames(first_seconds));
  const Array noise = (beyond(gates.span().length) + beyond(2 * gates.span().length)) / 2;
  const Array signal = power_around(linear.second, bin_hz, hz);
  Array result = Array::Zero(hz.size());
  for (Index i = 0; i < hz.size(); ++i)
    if (hz[i] >= lowest_hz && signal[i] > 0 && before[i] > least_over_noise * noise[i])
      result[i] = std::sqrt((before[i] - noise[i]) / signal[i]);
  // Below, a window so short tells nothing: what the octave above has, stands.
  const Index low = (hz < lowest_hz).count(), octave = (hz < 2 * lowest_hz).count() - low;
  if (octave > 0) result.head(low) = std::sqrt(result.segment(low, octave).square().mean());
  return result;
}

/// Coding errs around the response too, and by more than what comes early.
void widen_by_early(const Array& early, Transfer& result) {
  constexpr double around = 2;
  result.uncertainty =
      (result.uncertainty.square() + (around * early * result.ratio.abs()).square()).sqrt();
}

Transfer ratio_of(Gates& gates, double bin_hz, std::vector<double> mains_hz,
                  const TransferOptions& options) {
  const Array hz = transfer_grid(options);
  const PairPower power = power_of(gates.linear(), bin_hz);
  const Index n = hz.size();
  Transfer result{hz, ComplexArray(n), Array(n), Array(n), Array::Ones(n), std::move(mains_hz)};
  const auto left_out = bins_at(result.mains_hz, power, sweep_line_half_width_bins);
  std::vector<LocalFit> fits;
  LocalFitOptions local;
  local.per_octave = options.per_octave;
  for (Index i = 0; i < n; ++i) {
    fits.push_back(local_fit(power, hz[i], left_out, local));
    result.ratio[i] = fits.back().value(power.cross);
  }
  const Noise heard = noise(gates, fits, result.ratio);
  const Array error_power = pooled(heard.error_power, options.per_octave);
  const Array bin_power = pooled(heard.bin_power, options.per_octave);
  const Array moved =
      pooled(gate_error_power(gates, bin_hz, left_out, result, local), options.per_octave);
  const double line_hz = finer * bin_hz;
  for (Index i = 0; i < n; ++i) {
    const LocalFit& fit = fits[static_cast<std::size_t>(i)];
    const double width_hz = hz[i] * (std::exp2(1.0 / 6) - std::exp2(-1.0 / 6));
    const double samples = static_cast<double>(noise_windows) * std::max(1.0, width_hz / line_hz);
    const double random = std::sqrt(error_power[i] / 2) * few_samples_factor(2 * samples);
    result.uncertainty[i] = std::sqrt(random * random + moved[i]);
    const double signal =
        std::norm(result.ratio[i]) * power.first.segment(fit.first_bin, fit.bins()).mean();
    result.coherence[i] = signal > 0 ? signal / (signal + bin_power[i]) : 0;
    result.averages[i] = std::max(1.0, static_cast<double>(fit.bins()) / finer);
  }
  return result;
}

}  // namespace

SweepTransfer transfer_by_sweep(const Recording& recording, const Recording& stimulus,
                                const TransferOptions& options) {
  check_same_rate(recording, stimulus);
  const Span sound = main_sound(stimulus.channels[0], stimulus.rate_hz);
  check_stimulus(stimulus, sound);
  const double rate_hz = recording.rate_hz;
  const Alignment found = alignment(stimulus.channels[0], recording.channels[0], rate_hz);
  check_found(found, recording, stimulus);
  const Frames frames{power_of_two_from(static_cast<Index>(0.5 * rate_hz))};
  const auto delay = static_cast<Index>(std::llround(found.delay_seconds * rate_hz));
  const auto frames_left = static_cast<Index>(recording.channels[0].size()) - (sound.last + delay);
  const double left = static_cast<double>(frames_left) / rate_hz;
  const double needed = static_cast<double>((1 + noise_windows) * frames.gate) / rate_hz;
  if (sound.first + delay < 0 || left < needed)
    throw InputError(Place{recording.file},
                     "it starts after the sweep or ends " + rounded(left) + " s after it",
                     "start before it and record " + rounded(needed) + " s of quiet after it");
  const Sounds sounds{recording, stimulus, sound, delay, frames};
  const Correlation sum = correlation(sounds, options.progress);
  const double octave = octave_seconds(sum, options.band, rate_hz, stimulus.levels[0].peak);
  const GateSpan span{std::min<Index>(frames.gate / 2, static_cast<Index>(octave / 2 * rate_hz)),
                      frames.gate};
  const double bin_hz = rate_hz / static_cast<double>(finer * frames.gate);
  const Index bins = std::min(finer * frames.gate / 2 + 1,
                              static_cast<Index>(1.02 * options.band.high_hz / bin_hz) + 16);
  Lags lags(sum);
  auto mains_hz = subtract_hum(lags, span, rate_hz);
  Gates gates(std::move(lags), span, bins);
  const Band swept{options.band.low_hz, std::min(options.band.high_hz, highest_hz(sum, rate_hz))};
  SweepTransfer result{ratio_of(gates, bin_hz, std::move(mains_hz), options),
                       found.delay_seconds,
                       octave,
                       drift(gates.linear(), bin_hz, swept, octave),
                       {},
                       {}};
  result.transfer.first_level_db = first_level(gates.linear(), bin_hz, transfer_grid(options));
  result.early = early_part(gates, bin_hz, rate_hz, transfer_grid(options));
  widen_by_early(result.early, result.transfer);
  if (octave < fast_octave_seconds) return result;
  result.harmonics = sweep_harmonics(sounds, octave, {gates.linear(), bin_hz, swept.high_hz},
                                     result.transfer.frequency_hz);
  Transfer& transfer = result.transfer;
  const Array moved = pooled(result.harmonics.fundamental_error(), options.per_octave);
  transfer.uncertainty =
      (transfer.uncertainty.square() + (moved * transfer.ratio.abs()).square()).sqrt();
  return result;
}

}  // namespace ohmtilt
