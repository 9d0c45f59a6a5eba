#pragma once
#include <ohmtilt/base/array.h>

namespace ohmtilt {

/// 1/z, without the special cases of complex division, which cost more than the division itself:
/// not a number where |z|^2 leaves the range of a double.
inline Complex reciprocal(Complex z) { return std::conj(z) / std::norm(z); }
inline ComplexArray reciprocal(const ComplexArray& z) {
  return z.conjugate() * z.abs2().inverse().cast<Complex>();
}

}  // namespace ohmtilt
