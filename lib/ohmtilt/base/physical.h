#pragma once
#include <ohmtilt/text/number_range.h>

namespace ohmtilt {

/// Whether a value in SI units is 0 or from 1e-24 to 1e15 in magnitude. Beyond that no circuit
/// reaches, and double precision would overflow.
inline bool magnitude_is_physical(double value) {
  return is_in_range("", value);
}

}  // namespace ohmtilt
