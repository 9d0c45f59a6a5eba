#include <ohmtilt/base/fourier.h>
#include <ohmtilt/base/parallel.h>
#include <ohmtilt/measure/deconvolution.h>
#include <algorithm>
#include <cmath>
#include <numbers>

namespace ohmtilt {
namespace {

using Eigen::Index;

float at(const std::vector<float>& samples, Index i) {
  return i >= 0 && i < static_cast<Index>(samples.size()) ? samples[i] : 0.0f;
}

/// Samples first .. last-1 of a signal, from place on in a frame that is zero elsewhere.
struct Piece {
  Index first, last, place;
};

/// Spectra of two pieces of the stimulus by one transform.
PairSpectra played_pair(const std::vector<float>& x, const Piece& one, const Piece& other,
                        Fourier& fourier) {
  ComplexArray frame = ComplexArray::Zero(fourier.length());
  for (Index i = one.first; i < one.last; ++i) frame[one.place + i - one.first].real(x[i]);
  for (Index i = other.first; i < other.last; ++i) frame[other.place + i - other.first].imag(x[i]);
  return pair_spectra(fourier.forward(frame));
}

/// Adds conj(half spectrum of the stimulus) times the spectrum of both channels from frame 0 on.
void add_block(const ComplexArray& played, const Recording& recording, Index from, Fourier& fourier,
               Correlation& sum) {
  const Index n = fourier.length();
  ComplexArray frame(n);
  for (Index i = 0; i < n; ++i)
    frame[i] = Complex(at(recording.channels[0], from + i), at(recording.channels[1], from + i));
  const ComplexArray& recorded = fourier.forward(frame);
  sum.spectrum.head(n / 2 + 1) += played.conjugate() * recorded.head(n / 2 + 1);
  for (Index k = n / 2 + 1; k < n; ++k) sum.spectrum[k] += played[n - k] * recorded[k];
  sum.stimulus_power += played.abs2();
}

/// Over the blocks first .. last-1, two at a time.
Correlation correlation_of(const Sounds& s, Index first, Index last, const Progress& progress) {
  const Index n = s.frames.length();
  Correlation sum{ComplexArray::Zero(n), Array::Zero(n / 2 + 1)};
  Fourier fourier(n);
  const auto piece = [&](Index b) {
    const Index start = s.sound.first + b * s.frames.block();
    return Piece{start, std::min(start + s.frames.block(), s.sound.last + 1), s.frames.gate};
  };
  for (Index b = first; b < last; b += 2) {
    const Piece one = piece(b);
    const Piece other = b + 1 < last ? piece(b + 1) : Piece{0, 0, 0};
    const PairSpectra played = played_pair(s.stimulus.channels[0], one, other, fourier);
    const Index shift = s.delay - s.frames.gate;
    add_block(played.first, s.recording, one.first + shift, fourier, sum);
    if (b + 1 < last) add_block(played.second, s.recording, other.first + shift, fourier, sum);
    tell(progress, static_cast<double>(b - first) / static_cast<double>(last - first));
  }
  return sum;
}

}  // namespace

/// In two halves side by side; which blocks are whose does not depend on the machine.
Correlation correlation(const Sounds& sounds, const Progress& progress) {
  const Index block = sounds.frames.block();
  const Index blocks = (sounds.sound.last + block - sounds.sound.first) / block;
  const Index middle = (blocks + 1) / 4 * 2;
  Correlation early, late;
  parallel_invoke([&] { early = correlation_of(sounds, 0, middle, nullptr); },
                  [&] { late = correlation_of(sounds, middle, blocks, progress); });
  early.spectrum += late.spectrum;
  early.stimulus_power += late.stimulus_power;
  return early;
}

Lags::Lags(const Correlation& sum) {
  const Index n = sum.spectrum.size();
  ComplexArray white = sum.spectrum;  // an exponential sweep's power falls as 1/f
  for (Index k = 0; k < n; ++k) white[k] *= static_cast<double>(std::min(k, n - k));
  Fourier whole(n);
  values_ = whole.inverse(white);
}

double highest_hz(const Correlation& sum, double rate_hz) {
  const Index n = sum.stimulus_power.size();
  const Array flat = sum.stimulus_power * Array::LinSpaced(n, 0, static_cast<double>(n - 1));
  const double enough = 0.05 * flat.maxCoeff();
  Index top = n - 1;
  while (top > 0 && flat[top] < enough) --top;
  return static_cast<double>(top) * rate_hz / static_cast<double>(sum.spectrum.size());
}

double octave_seconds(const Correlation& sum, const Band& band, double rate_hz, double peak) {
  const double bin_hz = rate_hz / static_cast<double>(sum.spectrum.size());
  const double middle_hz = std::sqrt(band.low_hz * band.high_hz);
  const auto first = static_cast<Index>(middle_hz / std::numbers::sqrt2 / bin_hz);
  const auto last = static_cast<Index>(middle_hz * std::numbers::sqrt2 / bin_hz);
  const double energy = 2 * sum.stimulus_power.segment(first, last - first).sum() /
                        static_cast<double>(sum.spectrum.size());
  return energy / (peak * peak / 2) / rate_hz;
}

Array gate_shape(const GateSpan& span) {
  const auto half_cosine = [](Index i, Index n) {
    return 0.5 - 0.5 * std::cos(std::numbers::pi * (static_cast<double>(i) + 0.5) /
                                static_cast<double>(n));
  };
  Array shape = Array::Ones(span.length);
  const Index rise = span.before * 9 / 10;
  const Index fall = span.length - span.before - span.length / 5;
  for (Index i = 0; i < rise; ++i) shape[i] = half_cosine(i, rise);
  for (Index i = 0; i < fall; ++i) shape[span.length - 1 - i] = half_cosine(i, fall);
  return shape;
}

}  // namespace ohmtilt
