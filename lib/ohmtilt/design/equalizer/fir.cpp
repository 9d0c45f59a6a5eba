#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/fourier.h>
#include <ohmtilt/base/frequency_grid.h>
#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/design/equalizer/fir.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <cmath>
#include <numbers>

namespace ohmtilt {
namespace {

constexpr Eigen::Index least_transform = 1 << 15;
constexpr Eigen::Index transform_per_tap = 8;
constexpr Eigen::Index gain_points_per_tap = 32;

void check(const FirOptions& options) {
  if (options.taps < 16 || options.taps > 65535)
    throw InputError(std::to_string(options.taps) + " taps are out of range", "give 16 to 65535");
  if (options.phase == FirPhase::linear && options.taps % 2 == 0)
    throw InputError("a linear-phase filter of " + std::to_string(options.taps) +
                         " taps is silent at half the sample rate",
                     "give an odd number of taps");
  if (!(options.sample_rate_hz >= 8000 && options.sample_rate_hz <= 768000))
    throw InputError(
        "a sample rate of " + number_text(options.sample_rate_hz) + " Hz is out of range",
        "give 8000 to 768000, such as 48000");
}

Eigen::Index transform_length(Eigen::Index at_least) {
  return std::max(least_transform, power_of_two_from(at_least));
}

/// Gain wanted at 0, 1, ... size/2 steps of sample rate / size.
Array target_db(const Array& hz, const Array& deviation_db, double sample_rate_hz,
                Eigen::Index size) {
  const Array wanted_hz =
      Array::LinSpaced(size / 2 + 1, 0, sample_rate_hz / 2).max(hz[0]).min(hz[hz.size() - 1]);
  const Array db = LogInterpolator(hz, deviation_db).at(wanted_hz);
  return mean_over_ln_f(hz, deviation_db) - db;
}

/// Both halves of an even spectrum from its first.
ComplexArray even(const Array& half) {
  const Eigen::Index size = 2 * (half.size() - 1);
  ComplexArray whole(size);
  whole.head(half.size()) = half.cast<Complex>();
  for (Eigen::Index i = 1; i < half.size() - 1; ++i) whole[size - i] = whole[i];
  return whole;
}

/// 1 over the first three quarters of count samples, then half a cosine period down.
Array fade(Eigen::Index count) {
  const Eigen::Index faded = count / 4;
  Array window = Array::Ones(count);
  for (Eigen::Index i = 0; i < faded; ++i)
    window[count - 1 - i] = 0.5 - 0.5 * std::cos(std::numbers::pi * static_cast<double>(i + 1) /
                                                 static_cast<double>(faded + 1));
  return window;
}

Array minimum_phase_taps(const Array& half_db, Eigen::Index taps) {
  const Eigen::Index size = 2 * (half_db.size() - 1);
  Fourier transform(size);
  ComplexArray cepstrum = transform.inverse(even(half_db * (std::numbers::ln10 / 20)));
  cepstrum.segment(1, size / 2 - 1) *= 2;
  cepstrum.tail(size / 2 - 1).setZero();
  const ComplexArray spectrum = transform.forward(cepstrum).exp();
  return transform.inverse(spectrum).real().head(taps) * fade(taps);
}

Array linear_phase_taps(const Array& half_db, Eigen::Index taps) {
  const Array half = (half_db * (std::numbers::ln10 / 20)).exp();
  const Eigen::Index wing = (taps - 1) / 2;
  Fourier transform(2 * (half.size() - 1));
  const Array right = transform.inverse(even(half)).real().head(wing + 1) * fade(wing + 1);
  Array result(taps);
  result << right.reverse().head(wing), right;
  return result;
}

/// An upper limit of the gain at any frequency. Between points of a fine grid a trigonometric
/// polynomial of degree n exceeds the largest value there by no more than 1/cos(n pi/points)
/// [Riesz1914]; here that of the squared gain, n = taps - 1.
double gain_limit(const Array& taps) {
  const Eigen::Index size = transform_length(gain_points_per_tap * taps.size());
  ComplexArray padded = ComplexArray::Zero(size);
  padded.head(taps.size()) = taps.cast<Complex>();
  const double largest2 = Fourier(size).forward(padded).abs2().maxCoeff();
  const double angle =
      std::numbers::pi * static_cast<double>(taps.size() - 1) / static_cast<double>(size);
  return std::sqrt(largest2 / std::cos(angle));
}

}  // namespace

const char* to_string(FirPhase phase) { return phase == FirPhase::linear ? "linear" : "minimum"; }

Fir inverse_fir(const Array& hz, const Array& deviation_db, const FirOptions& options) {
  check(options);
  const Array half_db = target_db(hz, deviation_db, options.sample_rate_hz,
                                  transform_length(transform_per_tap * options.taps));
  const bool linear = options.phase == FirPhase::linear;
  const auto wing = static_cast<double>((options.taps - 1) / 2);
  Fir fir{
      linear ? linear_phase_taps(half_db, options.taps) : minimum_phase_taps(half_db, options.taps),
      options.sample_rate_hz, options.phase, 0, linear ? wing / options.sample_rate_hz : 0};
  const double limit = std::max(1.0, gain_limit(fir.taps));
  fir.taps /= limit;
  fir.lead_level_db = 0 - db_from_amplitude(limit);
  return fir;
}

Array response_db(const Fir& fir, const Array& hz) {
  Array db(hz.size());
  for (Eigen::Index i = 0; i < hz.size(); ++i) {
    const Complex z = std::polar(1.0, -2 * std::numbers::pi * hz[i] / fir.sample_rate_hz);
    Complex sum = 0;
    for (Eigen::Index k = fir.taps.size() - 1; k >= 0; --k) sum = sum * z + fir.taps[k];
    db[i] = db_from_amplitude(std::abs(sum));
  }
  return db;
}

}  // namespace ohmtilt
