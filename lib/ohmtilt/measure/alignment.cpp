#include <ohmtilt/base/fourier.h>
#include <ohmtilt/measure/alignment.h>
#include <ohmtilt/measure/decimator.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

using Eigen::Index;

constexpr std::size_t enough_frames = 1 << 18;

double energy(const std::vector<float>& samples) {
  double sum = 0;
  for (const float x : samples) sum += static_cast<double>(x) * x;
  return sum;
}

std::vector<float> halved(const std::vector<float>& samples) {
  Halving halving;
  std::vector<float> out;
  out.reserve(samples.size() / 2 + 1);
  halving.feed(samples, out);
  return out;
}

}  // namespace

Alignment alignment(const std::vector<float>& signal, const std::vector<float>& recording,
                    double rate_hz) {
  std::vector<float> x = signal, y = recording;
  double rate = rate_hz;
  while (x.size() + y.size() > enough_frames) {
    auto lower = halved(x);
    if (energy(lower) < 0.1 * energy(x)) break;  // what is left must still be the signal
    x = std::move(lower);
    y = halved(y);
    rate /= 2;
  }
  const Index n = power_of_two_from(static_cast<Index>(x.size() + y.size()));
  ComplexArray both = ComplexArray::Zero(n);
  for (std::size_t i = 0; i < x.size(); ++i) both[i].real(x[i]);
  for (std::size_t i = 0; i < y.size(); ++i) both[i].imag(y[i]);
  Fourier fourier(n);
  const PairSpectra pair = pair_spectra(fourier.forward(both));
  // A white spectrum would favour noise; the sweep's own makes this the matched filter.
  ComplexArray product = ComplexArray::Zero(n);
  product.head(n / 2 + 1) = pair.first.conjugate() * pair.second;
  const ComplexArray& lags = fourier.inverse(product);
  Index peak = 0;
  lags.abs2().maxCoeff(&peak);
  const double scale = std::sqrt(energy(x) * energy(y));
  const double likeness = scale > 0 ? 2 * std::abs(lags[peak]) / scale : 0;
  const Index lag = peak < static_cast<Index>(y.size()) ? peak : peak - n;
  return {static_cast<double>(lag) / rate, std::min(likeness, 1.0)};
}

void check_same_rate(const Recording& recording, const Recording& stimulus) {
  if (stimulus.file_rate_hz != recording.file_rate_hz)
    throw InputError(Place{recording.file},
                     "its sample rate is " + number_text(recording.file_rate_hz) +
                         " Hz, the stimulus has " + number_text(stimulus.file_rate_hz) + " Hz",
                     "play and record at the same rate");
}

void check_found(const Alignment& found, const Recording& recording, const Recording& stimulus) {
  if (found.likeness < 0.3)
    throw InputError(
        Place{recording.file}, "the sound of " + printable(stimulus.file) + " is not in it",
        "give the stimulus that was played, and check the sample rate and the channels");
}

}  // namespace ohmtilt
