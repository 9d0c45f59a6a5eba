#include <fmt/format.h>

#include <ohmtilt/text/characters.h>
#include <ohmtilt/text/portable_number.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <numeric>

namespace ohmtilt {

#ifdef __cpp_lib_to_chars

std::string number_text(double value) {
  char buffer[32];
  char* const last = buffer + sizeof buffer;
  const bool whole = value == std::trunc(value) && std::abs(value) < 1e15;
  return {buffer, whole ? std::to_chars(buffer, last, value, std::chars_format::fixed).ptr
                        : std::to_chars(buffer, last, value).ptr};
}

std::optional<double> parse_number(std::string_view text) {
  if (!text.empty() && text.front() == '+') text.remove_prefix(1);
  if (text.empty() || text.front() == '+') return std::nullopt;
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc() || end != text.data() + text.size()) return std::nullopt;
  return value;
}

#else

std::string number_text(double value) {
  const bool whole = value == std::trunc(value) && std::abs(value) < 1e15;
  return whole ? fmt::format("{:.0f}", value) : portable_number_text(value);
}

std::optional<double> parse_number(std::string_view text) {
  if (!text.empty() && text.front() == '+') text.remove_prefix(1);
  return portable_parse_number(text);
}

#endif

namespace {

/// A byte of UTF-8 that no character begins with.
bool is_continuation(char byte) { return (static_cast<unsigned char>(byte) & 0xc0) == 0x80; }

}  // namespace

std::string printable(std::string_view text, std::size_t max_bytes) {
  const bool cut = text.size() > max_bytes;
  std::size_t end = std::min(text.size(), max_bytes);
  for (int step = 0; cut && step < 3 && end > 0 && is_continuation(text[end]); ++step) --end;
  std::string shown;
  each_character(valid_utf8(text.substr(0, end)), [&](std::string_view c) {
    // Messages put keys in backquotes, which a page sets as code: a foreign one becomes U+02CB.
    shown += has_no_shape(code_point(c)) ? "?" : c == "`" ? "\xcb\x8b" : c;
    return true;
  });
  return cut ? shown + "..." : shown;
}

std::string_view trimmed(std::string_view text) {
  const auto blank = " \t\r\n\v\f";
  const auto first = text.find_first_not_of(blank);
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(blank) - first + 1);
}

std::string lower(std::string_view text) {
  std::string result(text);
  for (char& c : result)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return result;
}

namespace {

/// Length of the valid UTF-8 sequence at the start of bytes, 0 if there is none (RFC 3629).
std::size_t utf8_length(std::string_view bytes) {
  const auto at = [&](std::size_t i) { return static_cast<unsigned char>(bytes[i]); };
  const unsigned first = at(0);
  if (first < 0x80) return 1;
  const std::size_t length = first >= 0xf0 ? 4 : first >= 0xe0 ? 3 : 2;
  if (first < 0xc2 || first > 0xf4 || bytes.size() < length) return 0;
  for (std::size_t i = 1; i < length; ++i)
    if ((at(i) & 0xc0u) != 0x80u) return 0;
  const unsigned second = at(1);
  const bool overlong = (first == 0xe0 && second < 0xa0) || (first == 0xf0 && second < 0x90);
  const bool surrogate_or_beyond =
      (first == 0xed && second > 0x9f) || (first == 0xf4 && second > 0x8f);
  return overlong || surrogate_or_beyond ? 0 : length;
}

std::size_t edit_distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> row(b.size() + 1);
  std::iota(row.begin(), row.end(), std::size_t{0});
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::size_t diagonal = row[0];
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t replaced = diagonal + (a[i - 1] == b[j - 1] ? 0 : 1);
      diagonal = row[j];
      row[j] = std::min({row[j] + 1, row[j - 1] + 1, replaced});
    }
  }
  return row.back();
}

}  // namespace

std::string valid_utf8(std::string_view bytes) {
  std::string result;
  result.reserve(bytes.size());
  while (!bytes.empty()) {
    const std::size_t length = utf8_length(bytes);
    if (length == 0) {
      result += "\xef\xbf\xbd";
      bytes.remove_prefix(1);
    } else {
      result += bytes.substr(0, length);
      bytes.remove_prefix(length);
    }
  }
  return result;
}

std::optional<std::string> nearest_word(std::string_view word,
                                        const std::vector<std::string>& candidates) {
  const auto distance = [&](const std::string& c) { return edit_distance(word.substr(0, 200), c); };
  const auto best =
      std::min_element(candidates.begin(), candidates.end(),
                       [&](const auto& a, const auto& b) { return distance(a) < distance(b); });
  if (best == candidates.end() || 2 * distance(*best) > best->size()) return std::nullopt;
  return *best;
}

std::string listed(const std::vector<std::string>& words) {
  std::string text;
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (i > 0) text += i + 1 == words.size() ? " and " : ", ";
    text += words[i];
  }
  return text;
}

}  // namespace ohmtilt
