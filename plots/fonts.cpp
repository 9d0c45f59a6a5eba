#include <plots/fonts.h>
#include <plots/session.h>
#include <plots/text.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cstdint>

namespace ohmtilt::plots {
namespace {

using Range = std::pair<char32_t, char32_t>;

/// "20-7e" or "a0"; nothing for another word.
std::optional<Range> range_of(std::string_view word) {
  std::array<std::uint32_t, 2> ends{};
  const char *at = word.data(), *const end = word.data() + word.size();
  auto read = std::from_chars(at, end, ends[0], 16);
  if (read.ec != std::errc()) return std::nullopt;
  ends[1] = ends[0];
  if (read.ptr != end && *read.ptr == '-') read = std::from_chars(read.ptr + 1, end, ends[1], 16);
  if (read.ec != std::errc() || read.ptr != end) return std::nullopt;
  return Range(ends[0], ends[1]);
}

std::vector<Range> merged(std::vector<Range> ranges) {
  std::sort(ranges.begin(), ranges.end());
  std::vector<Range> result;
  for (const Range& range : ranges) {
    if (!result.empty() && range.first <= result.back().second + 1)
      result.back().second = std::max(result.back().second, range.second);
    else
      result.push_back(range);
  }
  return result;
}

}  // namespace

FontCoverage::FontCoverage(std::string_view charsets) {
  constexpr std::string_view blank = " \n";
  std::vector<Range> ranges;
  for (std::size_t at = 0; at < charsets.size();) {
    const std::size_t end = std::min(charsets.find_first_of(blank, at), charsets.size());
    if (const auto range = range_of(charsets.substr(at, end - at))) ranges.push_back(*range);
    at = end + 1;
  }
  ranges_ = merged(std::move(ranges));
}

bool FontCoverage::has(char32_t code) const {
  const auto after = std::upper_bound(ranges_.begin(), ranges_.end(), Range(code, 0x7fffffff));
  return after != ranges_.begin() && code <= std::prev(after)->second;
}

std::optional<FontCoverage> installed_fonts() {
  const Ended answer = ChildProcess({"fc-list", "--format", "%{charset}\\n"}).wait(drawing_time());
  if (!answer.well() || answer.said.empty()) return std::nullopt;
  return FontCoverage(answer.said);
}

LegibleText legible(std::string_view text, const FontCoverage& fonts) {
  const std::string_view mark = fonts.has(0xfffd) ? "\xef\xbf\xbd" : "?";
  LegibleText result;
  each_character(text, [&](std::string_view character) {
    const bool drawn = character.size() == 1 || fonts.has(code_point(character));
    result.text += drawn ? character : mark;
    if (!drawn && result.missing.find(character) == std::string::npos) result.missing += character;
    return true;
  });
  return result;
}

}  // namespace ohmtilt::plots
