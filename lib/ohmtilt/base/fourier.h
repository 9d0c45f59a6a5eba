#pragma once
#include <memory>

#include <ohmtilt/base/array.h>

namespace ohmtilt {

/// Discrete Fourier transforms of one length (a power of two is fast), keeping the tables between
/// calls. Not to be shared between threads.
class Fourier {
 public:
  explicit Fourier(Eigen::Index length);
  ~Fourier();
  Fourier(const Fourier&) = delete;
  Fourier& operator=(const Fourier&) = delete;

  Eigen::Index length() const { return length_; }
  /// sum over n of x[n] exp(-j 2 pi k n / length), k = 0 .. length-1.
  const ComplexArray& forward(const ComplexArray& x);
  /// The inverse, with its factor 1/length.
  const ComplexArray& inverse(const ComplexArray& spectrum);

 private:
  struct Plan;
  std::unique_ptr<Plan> plan_;
  Eigen::Index length_;
  ComplexArray result_;
};

/// Half spectra (bins 0 .. length/2) of two real signals.
struct PairSpectra {
  ComplexArray first, second;
};
/// From the transform of first + j second (both real): one transform does for two.
PairSpectra pair_spectra(const ComplexArray& spectrum);

/// Hann's window of n points, periodic: 0 at the start, 1 in the middle.
Array hann(Eigen::Index n);

/// The smallest power of two that is at least n (n >= 1).
Eigen::Index power_of_two_from(Eigen::Index n);

}  // namespace ohmtilt
