#pragma once
#include <optional>
#include <string>
#include <utility>

namespace ohmtilt::cli {

/// "LO-HI" apart: "1-100", "-10-40", "1e-6-4.7uF". The dash between is neither a sign nor that of an
/// exponent. Nothing where there is none.
std::optional<std::pair<std::string, std::string>> split_range(const std::string& text);

}  // namespace ohmtilt::cli
