#include <ohmtilt/text/error.h>
#include <ohmtilt/text/number_range.h>
#include <ohmtilt/text/number_table.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

namespace ohmtilt {
namespace {

constexpr NumberRange of_parts = {1e-24, 1e15, "it may be 0 or from 1e-24 to 1e15 in magnitude"};

/// By the last word of a name. Words behind "per" are no unit of their own.
constexpr std::array<std::pair<std::string_view, NumberRange>, 8> by_unit = {
    {{"hz", {1e-6, 1e12, "frequencies go from 1e-6 to 1e12 Hz"}},
     {"db", {0, 300, "decibels go from -300 to 300"}},
     {"deg", {0, 1e6, "phases go from -1e6 to 1e6 degrees"}},
     {"percent", {0, 1000, "percentages go to 1000"}},
     {"ms", {0, 1e12, "durations go to 1e12 ms"}},
     {"volt", {1e-24, 1e6, "voltages go to 1e6 V"}},
     {"ampere", {1e-24, 1e6, "currents go to 1e6 A"}},
     {"watt", {1e-24, 1e9, "powers go to 1e9 W"}}}};

/// "db" of "sensitivity_db_per_volt", "volt" of "open_volt", "k" of "k".
std::string_view unit_of(std::string_view name) {
  name = name.substr(0, name.find("_per_"));
  const std::size_t last = name.rfind('_');
  return last == std::string_view::npos ? name : name.substr(last + 1);
}

}  // namespace

const NumberRange& range_of(std::string_view name) {
  const std::string_view unit = unit_of(name);
  const bool per = name.find("_per_") != std::string_view::npos;
  for (const auto& [word, range] : by_unit)
    if (word == unit && (!per || word == "db" || word == "volt")) return range;
  return of_parts;
}

bool is_in_range(std::string_view name, double value) {
  return range_of(name).holds(value);
}

std::string beyond_range(double value) {
  return "is " + number_text(value) + ", beyond anything physical";
}

std::string range_remedy(std::string_view name) {
  return std::string("check its unit; ") + range_of(name).words;
}

void require_in_range(const NumberTable& table, std::size_t column, std::string_view name) {
  const auto& values = table.columns[column];
  const auto outside =
      std::find_if(values.begin(), values.end(), [&range = range_of(name)](double value) {
        return std::isfinite(value) && !range.holds(value);
      });
  if (outside == values.end()) return;
  throw InputError(table.place(static_cast<std::size_t>(outside - values.begin()), column),
                   std::string(name) + " " + beyond_range(*outside), range_remedy(name));
}

}  // namespace ohmtilt
