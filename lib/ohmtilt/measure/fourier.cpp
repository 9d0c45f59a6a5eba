#include <ohmtilt/measure/fourier.h>
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

Eigen::Index power_of_two_from(Eigen::Index n) {
  Eigen::Index power = 1;
  while (power < n) power *= 2;
  return power;
}

}  // namespace ohmtilt
