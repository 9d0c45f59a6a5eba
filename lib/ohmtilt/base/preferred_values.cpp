#include <algorithm>
#include <array>
#include <cmath>

#include <ohmtilt/base/preferred_values.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>

namespace ohmtilt {
namespace {

// E24 departs from the geometric rule in eight places, so it is a list; E3 to E12 are every 8th,
// 4th and 2nd of it.
constexpr std::array<int, 24> e24{10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30,
                                  33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91};

/// E192 is the rounded geometric series but for 920, where the rule gives 919.
int e192(int index) {
  const auto ruled = static_cast<int>(std::lround(100 * std::pow(10.0, index / 192.0)));
  return ruled == 919 ? 920 : ruled;
}

/// The decimal nearest to digits * 10^exponent, as it would be read from text.
double scaled(int digits, int exponent) {
  return exponent < 0 ? digits / std::pow(10.0, -exponent) : digits * std::pow(10.0, exponent);
}

struct Member {
  int digits;
  int places;  ///< digits / 10^places lies from 1 to below 10
  double times_decade(int decade) const { return scaled(digits, decade - places); }
};

std::vector<Member> members(Series series) {
  const int count = static_cast<int>(series);
  std::vector<Member> result;
  for (int i = 0; i < count; ++i) {
    if (count <= 24)
      result.push_back({e24[static_cast<std::size_t>(i * 24 / count)], 1});
    else
      result.push_back({e192(i * 192 / count), 2});
  }
  return result;
}

}  // namespace

Series parse_series(std::string_view text) {
  for (const int count : {3, 6, 12, 24, 48, 96, 192})
    if (lower(text) == "e" + std::to_string(count)) return static_cast<Series>(count);
  throw InputError("\"" + printable(text) + "\" is no series of preferred values",
                   "give E3, E6, E12, E24, E48, E96 or E192");
}

std::vector<double> decade(Series series) {
  std::vector<double> result;
  for (const Member& member : members(series)) result.push_back(member.times_decade(0));
  return result;
}

std::vector<double> preferred_values(Series series, double low, double high) {
  if (!(low > 0 && low <= high && std::isfinite(high)))
    throw InputError(
        "the range " + number_text(low) + " to " + number_text(high) + " is not allowed",
        "give two positive values, the lower first");
  const int first = static_cast<int>(std::floor(std::log10(low))) - 1;
  const int last = static_cast<int>(std::ceil(std::log10(high))) + 1;
  std::vector<double> result;
  for (int power = first; power <= last; ++power)
    for (const Member& member : members(series)) {
      const double value = member.times_decade(power);
      if (value >= low && value <= high) result.push_back(value);
    }
  return result;
}

}  // namespace ohmtilt
