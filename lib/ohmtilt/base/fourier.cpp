#include <ohmtilt/base/fourier.h>
#include <cmath>
#include <numbers>
#include <unsupported/Eigen/FFT>

namespace ohmtilt {

struct Fourier::Plan {
  Eigen::FFT<double> transform;
};

Fourier::Fourier(Eigen::Index length)
    : plan_(std::make_unique<Plan>()), length_(length), result_(length) {}
Fourier::~Fourier() = default;

const ComplexArray& Fourier::forward(const ComplexArray& x) {
  plan_->transform.fwd(result_.data(), x.data(), length_);
  return result_;
}

const ComplexArray& Fourier::inverse(const ComplexArray& spectrum) {
  plan_->transform.inv(result_.data(), spectrum.data(), length_);
  return result_;
}

PairSpectra pair_spectra(const ComplexArray& spectrum) {
  const Eigen::Index n = spectrum.size();
  const Complex j(0, 1);
  PairSpectra pair{ComplexArray(n / 2 + 1), ComplexArray(n / 2 + 1)};
  for (Eigen::Index k = 0; k <= n / 2; ++k) {
    const Complex here = spectrum[k];
    const Complex mirrored = std::conj(spectrum[(n - k) % n]);
    pair.first[k] = 0.5 * (here + mirrored);
    pair.second[k] = -0.5 * j * (here - mirrored);
  }
  return pair;
}

Array hann(Eigen::Index n) {
  const double step = 2 * std::numbers::pi / static_cast<double>(n);
  Array window(n);
  for (Eigen::Index i = 0; i < n; ++i)
    window[i] = 0.5 - 0.5 * std::cos(step * static_cast<double>(i));
  return window;
}

Eigen::Index power_of_two_from(Eigen::Index n) {
  Eigen::Index power = 1;
  while (power < n) power *= 2;
  return power;
}

}  // namespace ohmtilt
