#pragma once
#include <cmath>
#include <string>
#include <string_view>

namespace ohmtilt {

struct NumberTable;

/// What a number in a file may be in magnitude: 0, or from least to largest. Beyond that no earphone
/// and no amplifier reaches; it is a number that stands for "no data", another unit, or a slip.
struct NumberRange {
  double least;
  double largest;
  const char* words;  ///< "decibels go from -300 to 300"
  bool holds(double value) const {
    return value == 0 || (std::abs(value) >= least && std::abs(value) <= largest);
  }
};

/// The range of a key or column by the unit that its name ends in ("open_volt", "magnitude_db"):
/// FILES.md has them all. What is no unit (a ratio, Q) has that of ohm, farad and henry.
const NumberRange& range_of(std::string_view name);
bool is_in_range(std::string_view name, double value);
/// What a message says of a value outside: "is 1e+308, beyond anything physical", and its remedy.
std::string beyond_range(double value);
std::string range_remedy(std::string_view name);

/// Throws InputError at the first cell of the column that is outside the range of name; cells that
/// are not finite are let through.
void require_in_range(const NumberTable& table, std::size_t column, std::string_view name);

}  // namespace ohmtilt
