#pragma once
#include <string>

namespace ohmtilt::cli {

/// "4.7 uF": three figures and a prefix, in ASCII for the terminal.
std::string with_prefix(double value, const std::string& unit);

/// A value of a part by the end of its key: "8.2 ohm", "100 uH", "4.7 uF", "1.2".
std::string part_value_text(double value, const std::string& key);

}  // namespace ohmtilt::cli
