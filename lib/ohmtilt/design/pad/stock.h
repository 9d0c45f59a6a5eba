#pragma once
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace ohmtilt {

/// The resistances in ohm that a stock list names, rising, each once: numbers or IEC 60062 codes
/// ("4R7", "4k7") between blanks, commas, semicolons or line ends; '#' begins a comment.
/// Throws InputError with file, line and column for anything else, and for an empty list.
std::vector<double> read_stock(const std::filesystem::path& file);
/// The same from memory; name stands for the file in messages.
std::vector<double> parse_stock(std::string_view text, const std::string& name);

/// A resistance as a person writes it: a positive number of ohms, or a code. Nothing for anything
/// else.
std::optional<double> resistance_of_text(std::string_view text);

}  // namespace ohmtilt
