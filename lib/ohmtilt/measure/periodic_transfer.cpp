#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/fourier.h>
#include <ohmtilt/measure/active_segment.h>
#include <ohmtilt/measure/alignment.h>
#include <ohmtilt/measure/halves.h>
#include <ohmtilt/measure/mains.h>
#include <ohmtilt/measure/periodic_transfer.h>
#include <ohmtilt/measure/third_octave_smoothing.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <cmath>
#include <numbers>

namespace ohmtilt {
namespace {

using Eigen::Index;

constexpr Index least_periods = 4;
constexpr Index most_periods = 16;      // under one window
constexpr double fade_seconds = 0.025;  // at both ends of a stimulus
constexpr double period_line_half_width_bins = 1;
constexpr Index longest_search_frames = Index{1} << 19;

/// Whole periods that stand still: after the first one and before the fade at the end.
struct Steady {
  Index start, period, count;
};

Steady steady_part(const Recording& recording, const Span& sound, Index period,
                   double delay_seconds) {
  const auto fade = static_cast<Index>(fade_seconds * recording.rate_hz);
  const auto delay = static_cast<Index>(std::llround(delay_seconds * recording.rate_hz));
  const Index start = std::max<Index>(sound.first + delay, 0) + std::max(period, fade);
  const Index end =
      std::min(sound.last + delay - fade, static_cast<Index>(recording.channels[0].size()));
  const Index count = end > start ? (end - start) / period : 0;
  if (count < least_periods)
    throw InputError(
        Place{recording.file},
        "it holds " + std::to_string(count) + " whole periods of the stimulus, of " +
            number_text(std::round(100 * static_cast<double>(period) / recording.rate_hz) / 100) +
            " s each",
        "play and record six or more, or leave the stimulus out");
  return {start, period, count};
}

/// Sums over sections of the recording at the lines k/period, and means of what lies between them.
struct Lines {
  PairPower signal;  ///< sums
  PairPower noise;   ///< means
};

Lines no_lines(double line_hz, Index count) {
  const PairPower none{line_hz, Array::Zero(count), Array::Zero(count), ComplexArray::Zero(count)};
  return {none, none};
}

/// Adds one section: a transform over all its periods under Hann's window, in which line k stands
/// in bin k count and nothing of it beyond the two bins beside.
void add_section(const PairSpectra& section, Index count, Lines& lines) {
  for (Index k = 0; k < lines.signal.first.size(); ++k) {
    const auto add = [&](Index bin, double weight, PairPower& power) {
      const Complex x = section.first[bin], y = section.second[bin];
      power.first[k] += weight * std::norm(x);
      power.second[k] += weight * std::norm(y);
      power.cross[k] += weight * std::conj(x) * y;
    };
    add(k * count, 1, lines.signal);
    for (Index r = 2; r <= count - 2; ++r)
      add(k * count + r, 1 / static_cast<double>(count - 3), lines.noise);
  }
}

PairSpectra section_spectra(const Recording& recording, Index start, const Array& window,
                            Fourier& fourier) {
  ComplexArray block(window.size());
  for (Index i = 0; i < window.size(); ++i)
    block[i] =
        window[i] * Complex(recording.channels[0][start + i], recording.channels[1][start + i]);
  return pair_spectra(fourier.forward(block));
}

Lines measured_lines(const Recording& recording, const Steady& steady,
                     const TransferOptions& options) {
  const double line_hz = recording.rate_hz / static_cast<double>(steady.period);
  // The last line needs the bins up to the next one.
  const Index top =
      std::min(steady.period / 2, static_cast<Index>(1.02 * options.band.high_hz / line_hz) + 16);
  const Index parts = (steady.count + most_periods - 1) / most_periods;
  const Index each = steady.count / parts;
  Lines lines = no_lines(line_hz, top);
  const Array window = hann(each * steady.period);
  Fourier fourier(window.size());
  for (Index part = 0; part < parts; ++part) {
    const Index start = steady.start + part * each * steady.period;
    add_section(section_spectra(recording, start, window, fourier), each, lines);
    tell(options.progress, static_cast<double>(part) / static_cast<double>(parts));
  }
  for (auto* values : {&lines.noise.first, &lines.noise.second})
    *values /= static_cast<double>(parts);
  lines.noise.cross /= static_cast<double>(parts);
  return lines;
}

/// Half a spectrum of one period.
ComplexArray period_spectrum(const std::vector<float>& samples, Index start, Index period) {
  ComplexArray one(period);
  for (Index i = 0; i < period; ++i) one[i] = samples[start + i];
  Fourier fourier(period);
  return fourier.forward(one).head(period / 2 + 1);
}

/// Which lines carry a tone: those within 30 dB of the strongest around them (a sixth of an octave
/// and its neighbours) and within 70 dB of all.
std::vector<bool> excited_lines(const Recording& stimulus, Index start, Index period) {
  const Array power = period_spectrum(stimulus.channels[0], start, period).abs2();
  const auto part = [](Index k) {
    return static_cast<Index>(6 * std::log2(static_cast<double>(k)));
  };
  Array strongest = Array::Zero(part(power.size()) + 3);
  for (Index k = 1; k < power.size(); ++k)
    strongest[part(k) + 1] = std::max(strongest[part(k) + 1], power[k]);
  const double least = 1e-7 * strongest.maxCoeff();
  std::vector<bool> excited(static_cast<std::size_t>(power.size()), false);
  for (Index k = 1; k < power.size(); ++k)
    excited[static_cast<std::size_t>(k)] =
        power[k] >= least && power[k] > 1e-3 * strongest.segment(part(k), 3).maxCoeff();
  return excited;
}

/// From the phases between the first and the last period, first of the low lines, then of twice as
/// many, so that no phase is ever more than a part of a turn from what is expected.
double clock_difference_ppm(const Recording& recording, const Steady& steady,
                            const std::vector<bool>& excited) {
  const Index apart = (steady.count - 1) * steady.period;
  const auto& first = recording.channels[0];
  const ComplexArray turn = period_spectrum(first, steady.start + apart, steady.period) *
                            period_spectrum(first, steady.start, steady.period).conjugate();
  const double turns = 2 * std::numbers::pi / static_cast<double>(steady.period);
  const auto top = static_cast<Index>(0.42 * static_cast<double>(steady.period));
  double frames = 0;  // by which the last period comes late
  for (Index reach = 128; reach < 2 * top; reach *= 2) {
    double sum = 0, weights = 0;
    for (Index k = 1; k < std::min(reach, top); ++k) {
      if (!excited[static_cast<std::size_t>(k)]) continue;
      const auto line = static_cast<double>(k);
      const double size = std::abs(turn[k]);
      sum += size * line * std::arg(turn[k] * std::polar(1.0, turns * line * frames));
      weights += size * line * line;
    }
    if (weights > 0) frames -= sum / weights / turns;
  }
  return std::abs(frames) / static_cast<double>(apart) * 1e6;
}

/// Power of the second channel over some lines.
struct LinePower {
  double power = 0, noise = 0, count = 0;
  double above_noise() const { return power > 2 * noise ? power - noise : 0; }
};

/// Rms of the second channel at lines left out, over that at the lines that sound.
struct Distortion {
  double even = 0, odd = 0;
};

/// Lines at which mains hum may stand, whether it is heard or not.
std::vector<bool> mains_multiples(const PairPower& power) {
  std::vector<double> hz;
  for (const double base_hz : {50.0, 60.0})
    for (double line_hz = base_hz; line_hz <= 1000; line_hz += base_hz) hz.push_back(line_hz);
  return bins_at(hz, power, period_line_half_width_bins);
}

Distortion distortion(const Lines& lines, const std::vector<bool>& excited, Index parts,
                      const Band& band) {
  const double line_hz = lines.signal.bin_hz;
  const auto first = static_cast<Index>(std::ceil(band.low_hz / line_hz));
  const auto last = std::min(lines.signal.first.size() - 1,
                             static_cast<Index>(std::floor(band.high_hz / line_hz)));
  const std::vector<bool> hum = mains_multiples(lines.signal);
  LinePower sounding, even, odd;
  for (Index k = first; k <= last; ++k) {
    if (hum[static_cast<std::size_t>(k)]) continue;
    LinePower& here = excited[static_cast<std::size_t>(k)] ? sounding : k % 2 ? odd : even;
    here.power += lines.signal.second[k] / static_cast<double>(parts);
    here.noise += lines.noise.second[k];
    ++here.count;
  }
  if (!(sounding.power > 0)) return {};
  // Odd orders fall on the lines that sound too; those left out speak for all odd ones.
  const double all = odd.count > 0 ? 1 + sounding.count / odd.count : 0;
  return {std::sqrt(even.above_noise() / sounding.power),
          std::sqrt(all * odd.above_noise() / sounding.power)};
}

/// What a smooth curve leaves of the lines around one frequency, as power a line of the second
/// channel.
struct Scatter {
  double noise;    ///< from between the lines
  double residue;  ///< of the lines about the curve
  double samples;  ///< behind the residue
  double second;   ///< power of the second channel
};

Scatter scatter_at(const Lines& lines, double hz, const std::vector<bool>& left_out,
                   const LocalFitOptions& options) {
  const LocalFit fit = local_fit(lines.signal, hz, left_out, options);
  const ComplexArray curve = fit.curve(lines.signal.cross);
  Scatter sum{0, 0, 0, 0};
  for (Index i = 0; i < fit.bins(); ++i) {
    const Index k = fit.first_bin + i;
    if (fit.value_weights[i] == 0) continue;
    const double first = lines.signal.first[k];
    sum.residue += std::norm(lines.signal.cross[k] / first - curve[i]) * first;
    sum.noise += lines.noise.second[k] + std::norm(curve[i]) * lines.noise.first[k] -
                 2 * std::real(std::conj(curve[i]) * lines.noise.cross[k]);
    sum.second += lines.signal.second[k];
  }
  sum.samples = std::max(fit.used_bins - static_cast<double>(fit.powers.rows()), 1.0);
  return {sum.noise / fit.used_bins, sum.residue / sum.samples, sum.samples,
          sum.second / fit.used_bins};
}

void fill(const Lines& lines, const std::vector<bool>& left_out, const TransferOptions& options,
          Transfer& result) {
  LocalFitOptions narrow, wide;
  narrow.per_octave = options.per_octave;
  wide.per_octave = options.per_octave / 2;
  wide.least_bins = 12;
  const Index n = result.frequency_hz.size();
  Array noise(n), residue(n), samples(n), factor(n), second(n);
  for (Index i = 0; i < n; ++i) {
    const LocalFit fit = local_fit(lines.signal, result.frequency_hz[i], left_out, narrow);
    const Scatter scatter = scatter_at(lines, result.frequency_hz[i], left_out, wide);
    result.ratio[i] = fit.value(lines.signal.cross);
    result.averages[i] = fit.used_bins;
    factor[i] = fit.variance_factor;
    noise[i] = scatter.noise;
    residue[i] = scatter.residue;
    samples[i] = scatter.samples;
    second[i] = scatter.second;
  }
  const Array power = pooled(noise, options.per_octave).max(pooled(residue, options.per_octave));
  for (Index i = 0; i < n; ++i) {
    result.uncertainty[i] =
        std::sqrt(factor[i] * power[i] / 2) * few_samples_factor(2 * samples[i]);
    result.coherence[i] = second[i] > 0 ? std::clamp(1 - power[i] / second[i], 0.0, 1.0) : 0;
  }
}

PairSpectra period_pair(const Recording& recording, Index start, Index period, Fourier& fourier) {
  ComplexArray one(period);
  for (Index i = 0; i < period; ++i)
    one[i] = Complex(recording.channels[0][start + i], recording.channels[1][start + i]);
  return pair_spectra(fourier.forward(one));
}

/// Sums over the early and the late periods.
struct Halves {
  HalfSpectrum early, late;
};

Halves halves(const Recording& recording, const Steady& steady) {
  const Index lines = steady.period / 2 + 1;
  Halves result{{Array::Zero(lines), ComplexArray::Zero(lines)}, {}};
  result.late = result.early;
  Fourier fourier(steady.period);
  for (Index i = 0; i < steady.count; ++i) {
    const PairSpectra pair =
        period_pair(recording, steady.start + i * steady.period, steady.period, fourier);
    HalfSpectrum& half = 2 * i < steady.count ? result.early : result.late;
    half.first += pair.first.abs2();
    half.cross += pair.first.conjugate() * pair.second;
  }
  return result;
}

/// Level of what was recorded over what was played, at lines that sound within a sixth of an octave
/// of each frequency; the last level stands where there are none.
Array level_db(const Array& recorded, const Array& played, const std::vector<bool>& excited,
               double line_hz, const Array& hz) {
  constexpr double half = 1.06;
  Array level(hz.size());
  double last = 0;
  for (Index i = 0; i < hz.size(); ++i) {
    double above = 0, below = 0;
    const auto top = std::min(played.size() - 1, static_cast<Index>(hz[i] * half / line_hz));
    for (auto k = static_cast<Index>(std::ceil(hz[i] / half / line_hz)); k <= top; ++k) {
      if (!excited[static_cast<std::size_t>(k)]) continue;
      above += recorded[k];
      below += played[k];
    }
    if (above > 0) last = db_from_power(above / below);
    level[i] = last;
  }
  return level;
}

double energy(const Array& samples) { return samples.square().sum(); }

}  // namespace

Index repeated_frames(const Recording& stimulus) {
  const auto& samples = stimulus.channels[0];
  const Span sound = main_sound(samples, stimulus.rate_hz);
  if (rms_over_peak(samples, sound) >= least_sweep_share) return 0;
  const auto fade = static_cast<Index>(fade_seconds * stimulus.rate_hz);
  const Index start = sound.first + fade;
  const Index n = std::min(sound.last - fade - start, longest_search_frames);
  const auto shortest = static_cast<Index>(0.25 * stimulus.rate_hz);
  const Index longest = std::min(n / 2, static_cast<Index>(5 * stimulus.rate_hz));
  if (longest <= shortest) return 0;
  const Array x = Eigen::Map<const Eigen::ArrayXf>(samples.data() + start, n).cast<double>();
  Fourier fourier(power_of_two_from(2 * n));
  ComplexArray padded = ComplexArray::Zero(fourier.length());
  padded.head(n).real() = x;
  const ComplexArray power = fourier.forward(padded).abs2().cast<Complex>();
  const Array likeness = fourier.inverse(power).head(longest + 1).real();
  Index lag = 0;
  likeness.tail(longest + 1 - shortest).maxCoeff(&lag);
  lag += shortest;
  const double scale = std::sqrt(energy(x.head(n - lag)) * energy(x.tail(n - lag)));
  return likeness[lag] > 0.99 * scale ? lag : 0;
}

PeriodicTransfer transfer_by_periods(const Recording& recording, const Recording& stimulus,
                                     Index period, const TransferOptions& options) {
  check_same_rate(recording, stimulus);
  const Span sound = main_sound(stimulus.channels[0], stimulus.rate_hz);
  const Alignment found = alignment(stimulus.channels[0], recording.channels[0], recording.rate_hz);
  check_found(found, recording, stimulus);
  const Steady steady = steady_part(recording, sound, period, found.delay_seconds);
  const auto fade = static_cast<Index>(fade_seconds * recording.rate_hz);
  const auto excited = excited_lines(stimulus, sound.first + fade, period);
  Lines lines = measured_lines(recording, steady, options);
  const Index parts = (steady.count + most_periods - 1) / most_periods;
  const Distortion harmonics = distortion(lines, excited, parts, options.band);
  for (Index k = 0; k < lines.signal.first.size(); ++k)
    if (!excited[static_cast<std::size_t>(k)]) lines.signal.first[k] = 0;
  const Array hz = transfer_grid(options);
  const Index n = hz.size();
  PeriodicTransfer result{
      {hz, ComplexArray(n), Array(n), Array(n), Array(n),
       mains_lines(lines.signal, options.band.low_hz, period_line_half_width_bins)},
      harmonics.even,
      harmonics.odd,
      clock_difference_ppm(recording, steady, excited),
      found.delay_seconds};
  Transfer& transfer = result.transfer;
  const double line_hz = lines.signal.bin_hz;
  fill(lines, bins_at(transfer.mains_hz, lines.signal, period_line_half_width_bins), options,
       transfer);
  transfer.mains_hz = hum_among(transfer.mains_hz);
  const Halves parted = halves(recording, steady);
  const Array recorded =
      (parted.early.first + parted.late.first) / static_cast<double>(steady.count);
  const Array played = period_spectrum(stimulus.channels[0], sound.first + fade, period).abs2();
  transfer.first_level_db = level_db(recorded, played, excited, line_hz, hz);
  transfer.halves_apart =
      halves_apart(parted.early, parted.late, excited, line_hz, options.band, 1);
  transfer.uncertainty =
      (transfer.uncertainty.square() + (transfer.ratio.abs() * transfer.halves_apart).square())
          .sqrt();
  return result;
}

}  // namespace ohmtilt
