#pragma once
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace ohmtilt {

/// A coil that can be had. ohm: of its own winding, where it is known.
struct StockCoil {
  double henry = 0;
  std::optional<double> ohm;
};

/// The parts that there are, each list rising and without repetition; any may be empty, not all.
struct Stock {
  std::vector<double> ohms;
  std::vector<StockCoil> coils;
  std::vector<double> farads;
};

/// The parts that a stock list names between blanks, commas, semicolons or line ends: resistors as
/// numbers of ohms or IEC 60062 codes ("4R7", "4k7"), coils as "100uH" or, with the resistance of
/// their winding in ohm, "100uH/0.35", capacitors as "4.7uF" (prefixes p, n, u, m or none); '#'
/// begins a comment. Throws InputError with file, line and column for anything else, and for an
/// empty list.
Stock read_stock(const std::filesystem::path& file);
/// The same from memory; name stands for the file in messages.
Stock parse_stock(std::string_view text, const std::string& name);

/// A resistance as a person writes it: a positive number of ohms, or a code. Nothing for anything
/// else.
std::optional<double> resistance_of_text(std::string_view text);

}  // namespace ohmtilt
