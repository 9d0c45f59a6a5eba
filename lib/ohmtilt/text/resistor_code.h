#pragma once
#include <string>
#include <string_view>

namespace ohmtilt {

/// Resistance in ohm of a code in the style of [IEC60062], where a letter stands in place of the
/// decimal point and names the multiplier: R 1, K or k 1e3, M 1e6, G 1e9, L 1e-3 ("4R7", "4k7",
/// "R33", "2M2", "100R"). At least one digit, at most four in all.
/// Throws InputError when text is not such a code. (Letters: from memory of the standard.)
double parse_resistance_code(std::string_view text);

/// The shortest such code of ohm, rounded to three significant digits: 4700 -> "4K7", 0.33 ->
/// "R33", 0.022 -> "22L", 0 -> "0R". Throws InputError for a value that is negative, not finite,
/// below 0.001 or from 1e12 on.
std::string resistance_code(double ohm);

}  // namespace ohmtilt
