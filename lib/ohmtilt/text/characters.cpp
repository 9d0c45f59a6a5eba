#include <ohmtilt/text/characters.h>
#include <ohmtilt/text/text.h>

namespace ohmtilt {
namespace {

constexpr std::string_view replacement = "\xef\xbf\xbd";  // U+FFFD
constexpr std::string_view line_end = "\xe2\x86\xb5";     // U+21B5

/// Printable ASCII and line ends: nothing to look up.
bool is_plain(char c) {
  const auto byte = static_cast<unsigned char>(c);
  return c == '\n' || (byte >= 0x20 && byte < 0x7f);
}

bool all_plain(std::string_view text) { return std::all_of(text.begin(), text.end(), is_plain); }

/// with_line_end in place of "\n", "\r" and "\r\n".
std::string shown(std::string_view bytes, std::string_view with_line_end) {
  const std::string text = valid_utf8(bytes);
  std::string result;
  result.reserve(text.size());
  bool after_return = false;
  each_character(text, [&](std::string_view c) {
    const bool second_half = after_return && c == "\n";
    after_return = c == "\r";
    if (second_half) return true;
    if (c == "\n" || c == "\r") return result += with_line_end, true;
    if (c == "\t") return result += ' ', true;
    result += has_no_shape(code_point(c)) ? replacement : c;
    return true;
  });
  return result;
}

}  // namespace

char32_t code_point(std::string_view character) {
  const auto first = static_cast<unsigned char>(character[0]);
  if (character.size() == 1) return first;
  char32_t code = first & (0xffu >> (character.size() + 1));
  for (const char c : character.substr(1))
    code = (code << 6) | (static_cast<unsigned char>(c) & 0x3fu);
  return code;
}

bool has_no_shape(char32_t code) {
  const bool control = code < 0x20 || (code >= 0x7f && code < 0xa0);
  const bool direction = code == 0x61c || code == 0x200e || code == 0x200f ||
                         (code >= 0x2028 && code <= 0x202e) || (code >= 0x2066 && code <= 0x2069);
  const bool noncharacter = (code & 0xfffe) == 0xfffe || (code >= 0xfdd0 && code <= 0xfdef);
  return control || direction || noncharacter;
}

bool all_shown(std::string_view text) {
  if (all_plain(text)) return true;
  bool shown = true;
  each_character(text,
                 [&](std::string_view c) { return shown = c == "\n" || !has_no_shape(code_point(c)); });
  return shown;
}

std::string one_line(std::string_view bytes) { return shown(bytes, line_end); }

std::string shown_lines(std::string_view bytes) {
  return all_plain(bytes) ? std::string(bytes) : shown(bytes, "\n");
}

}  // namespace ohmtilt
