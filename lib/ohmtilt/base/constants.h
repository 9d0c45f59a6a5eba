#pragma once
#include <limits>
#include <numbers>

namespace ohmtilt {

inline constexpr double two_pi = 2 * std::numbers::pi;  ///< w = two_pi f
inline constexpr double infinity = std::numeric_limits<double>::infinity();

}  // namespace ohmtilt
