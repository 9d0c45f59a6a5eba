#pragma once
#include <Eigen/Core>
#include <vector>

#include <ohmtilt/base/array.h>

namespace ohmtilt {

/// Spectra of two channels on equally spaced bins, k bin_hz, k = 0 .. size-1: the powers of the
/// first and the second, and conj(first) second; sums or means over any number of blocks.
struct PairPower {
  double bin_hz;
  Array first, second;
  ComplexArray cross;
};

/// How a value at one frequency is made from the bins around it: a quadratic in frequency, fitted
/// by least squares with the first channel's power as weight (first order or a constant where the
/// power stands in too few bins). Linear in the cross spectrum, so the same weights carry noise.
struct LocalFit {
  Eigen::Index first_bin;
  Array value_weights;      ///< the ratio at the frequency is sum(value_weights cross)
  Eigen::MatrixXd powers;   ///< one row a power of the distance, one column a bin
  Eigen::MatrixXd inverse;  ///< of the normal matrix
  double used_bins;         ///< bins that were not left out
  double variance_factor;   ///< variance of the ratio for unit noise power a bin

  Eigen::Index bins() const { return value_weights.size(); }
  /// The ratio, from a cross spectrum over all bins.
  Complex value(const ComplexArray& cross) const;
  /// The fitted ratio at each of its bins.
  ComplexArray curve(const ComplexArray& cross) const;
};

struct LocalFitOptions {
  double per_octave = 48;       ///< the window is 1/per_octave octave wide
  Eigen::Index least_bins = 3;  ///< but at least this many bins to each side
};

/// left_out[k] is true for bins that do not take part (mains lines); its size is that of first.
/// The window grows until the power stands in six bins or so, or reaches an octave.
LocalFit local_fit(const PairPower& power, double hz, const std::vector<bool>& left_out,
                   const LocalFitOptions& options = {});

}  // namespace ohmtilt
