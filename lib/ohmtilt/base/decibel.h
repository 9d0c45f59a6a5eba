#pragma once
#include <cmath>
#include <numbers>

#include <ohmtilt/base/array.h>

namespace ohmtilt {

/// 20 lg of a voltage or current ratio; -infinity at 0.
inline double db_from_amplitude(double ratio) { return 20 * std::log10(ratio); }
inline Array db_from_amplitude(const Array& ratio) { return 20 * ratio.log10(); }
/// 10 lg of a power ratio; -infinity at 0.
inline double db_from_power(double ratio) { return 10 * std::log10(ratio); }
inline double amplitude_from_db(double db) { return std::pow(10.0, db / 20); }
inline double power_from_db(double db) { return std::pow(10.0, db / 10); }
inline Array power_from_db(const Array& db) { return (db * (std::numbers::ln10 / 10)).exp(); }

inline constexpr double db_per_neper = 20 / std::numbers::ln10;
inline constexpr double degree = std::numbers::pi / 180;  ///< in radians

}  // namespace ohmtilt
