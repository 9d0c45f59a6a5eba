#pragma once
// The natural modes of an earphone behind a source, followed while the source changes.
#include <ohmtilt/base/array.h>
#include <ohmtilt/model/rational_model.h>

#include <functional>
#include <limits>
#include <vector>

namespace ohmtilt {

/// The model whose zeros are asked for, at one value of what changes. Its poles must not move.
using ModelAt = std::function<RationalModel(double parameter)>;

/// Where a zero is that does not exist.
inline const Complex at_infinity(-std::numeric_limits<double>::infinity(), 0);

/// One row a parameter, one column a zero that moves continuously; row 0 continues start, and zeros
/// that start lacks are added behind. All zeros are refined together from where they were
/// [Aberth1973]; where a pair meets on the real axis they are worked out anew as eigenvalues. Where
/// there are fewer zeros than columns, the rest is at -infinity.
Eigen::ArrayXXcd track_zeros(const ModelAt& model, const Array& parameter,
                             const std::vector<Complex>& start);

/// values in the order in which they continue those of last (nearest first, relative); what is left
/// over stands behind, what is missing is -infinity.
std::vector<Complex> continued(const std::vector<Complex>& last,
                               const std::vector<Complex>& values);

/// Two zeros as one second-order mode: hz = sqrt(s1 s2)/2 pi, q = -sqrt(s1 s2)/(s1 + s2), also when
/// both have become real.
struct PairMode {
  Complex s1, s2;         ///< rad/s
  double hz = 0, q = 0;   ///< q infinite without damping, negative where the mode grows
  double decay_20_db_ms;  ///< 1000 ln(10)/|sigma| of the slower one; infinite without damping
  double decay_60_db_ms;  ///< 1000 ln(1000)/|sigma|
  bool is_complex() const { return s1.imag() != 0; }
};
/// Throws InputError when s1 s2 is not positive: these two are no mode.
PairMode pair_mode(Complex s1, Complex s2);

}  // namespace ohmtilt
