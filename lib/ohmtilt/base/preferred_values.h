#pragma once
#include <string_view>
#include <vector>

namespace ohmtilt {

/// A series of preferred values [IEC60063].
enum class Series { E3 = 3, E6 = 6, E12 = 12, E24 = 24, E48 = 48, E96 = 96, E192 = 192 };

/// "E24" in either case. Throws InputError naming the series there are.
Series parse_series(std::string_view text);

/// The members of one decade, rising, from 1 to below 10.
std::vector<double> decade(Series series);

/// All members from low to high, both counted, rising. 0 < low <= high; throws InputError
/// otherwise.
std::vector<double> preferred_values(Series series, double low, double high);

}  // namespace ohmtilt
