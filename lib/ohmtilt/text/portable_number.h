#pragma once
#include <optional>
#include <string>
#include <string_view>

namespace ohmtilt {

/// What std::to_chars writes of a double without a format, where the standard library cannot: the
/// shortest digits that read back, fixed or with an exponent, whichever is shorter (fixed where
/// both are equal).
std::string portable_number_text(double value);

/// What std::from_chars reads as a double, all of text; in the C locale only. Nothing where it
/// spells none or is out of range.
std::optional<double> portable_parse_number(std::string_view text);

}  // namespace ohmtilt
