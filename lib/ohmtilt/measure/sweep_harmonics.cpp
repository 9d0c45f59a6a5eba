#include <ohmtilt/base/parallel.h>
#include <ohmtilt/measure/sweep_harmonics.h>
#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

using Eigen::Index;

// Of the octave's time: how long before a harmonic's response its gate opens, how long it is, and
// how much later the same gate finds noise.
constexpr double before_part = 0.12, length_part = 0.4, later_part = 0.4;
constexpr double noise_power_factor = 4;    // of power, below which nothing is told from noise
constexpr double half_window = 1.06;  // a sixth of an octave around a frequency

/// What the second channel holds beyond the ratio times the first, in a gate at the lag.
ComplexArray excess(Lags& lags, const GateSpan& span, Index lag, const LinearResponse& linear,
                    Fourier& fourier) {
  const Array shape = gate_shape(span);
  ComplexArray gated = ComplexArray::Zero(fourier.length());
  for (Index i = 0; i < span.length; ++i) gated[i] = shape[i] * lags[lag + i - span.before];
  const PairSpectra pair = pair_spectra(fourier.forward(gated));
  const Index bins = linear.spectra.first.size();
  const ComplexArray ratio = linear.spectra.second / linear.spectra.first;
  return pair.second.head(bins) - ratio * pair.first.head(bins);
}

/// Mean power around a frequency.
double power_at(const ComplexArray& spectrum, double hz, double bin_hz) {
  const auto first = std::max<Index>(1, static_cast<Index>(hz / half_window / bin_hz));
  const auto last = std::min(spectrum.size() - 1, static_cast<Index>(hz * half_window / bin_hz));
  return last >= first ? spectrum.segment(first, last - first + 1).abs2().mean() : 0;
}

Array harmonic(const Sounds& sounds, int order, double octave_seconds, const LinearResponse& linear,
               const Array& frequency_hz) {
  const double rate_hz = sounds.recording.rate_hz, octave = octave_seconds * rate_hz;
  Sounds early = sounds;
  early.delay -= std::llround(octave * std::log2(order));
  Lags lags(correlation(early));
  const auto capped = [&](double part) {
    return std::min(static_cast<Index>(part * octave), sounds.frames.gate);
  };
  const GateSpan span{capped(before_part), capped(length_part)};
  Fourier fourier(power_of_two_from(static_cast<Index>(std::llround(rate_hz / linear.bin_hz))));
  const ComplexArray found = excess(lags, span, 0, linear, fourier);
  const ComplexArray noise = excess(lags, span, capped(later_part), linear, fourier);
  Array result(frequency_hz.size());
  double last = 0;
  for (Index i = 0; i < result.size(); ++i) {
    const double hz = order * frequency_hz[i];
    const double signal = power_at(linear.spectra.second, frequency_hz[i], linear.bin_hz);
    if (hz * half_window < linear.top_hz && signal > 0) {
      const double power = power_at(found, hz, linear.bin_hz);
      const double floor = power_at(noise, hz, linear.bin_hz);
      last = power > noise_power_factor * floor ? std::sqrt((power - floor) / signal) : 0;
    }
    result[i] = last;
  }
  return result;
}

}  // namespace

SweepHarmonics sweep_harmonics(const Sounds& sounds, double octave_seconds,
                               const LinearResponse& linear, const Array& frequency_hz) {
  SweepHarmonics result;
  parallel_invoke(
      [&] { result.second = harmonic(sounds, 2, octave_seconds, linear, frequency_hz); },
      [&] { result.third = harmonic(sounds, 3, octave_seconds, linear, frequency_hz); });
  return result;
}

}  // namespace ohmtilt
