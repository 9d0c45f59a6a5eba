#include <plots/text.h>

#include <ohmtilt/text/text.h>
#include <algorithm>
#include <array>
#include <cctype>

namespace ohmtilt::plots {
namespace {

bool is_wide(char32_t code) {  // East Asian full width, coarse
  return (code >= 0x1100 && code <= 0x115f) || (code >= 0x2e80 && code <= 0xa4cf) ||
         (code >= 0xac00 && code <= 0xd7a3) || (code >= 0xf900 && code <= 0xfaff) ||
         (code >= 0xfe30 && code <= 0xfe6f) || (code >= 0xff00 && code <= 0xff60) ||
         code >= 0x1f000;
}

/// Marks drawn over the character before; a little width, so that a heap of them stays bounded.
bool is_combining(char32_t code) {
  return (code >= 0x300 && code <= 0x36f) || (code >= 0x200b && code <= 0x200d) ||
         (code >= 0xfe00 && code <= 0xfe0f);
}

/// Advance widths of DejaVu Sans from blank to tilde in hundredths of an em, rounded up, as read
/// from the font; it is Debian's default and wider than its common substitutes.
constexpr std::array<unsigned char, 95> ascii_widths = {
    32, 41, 46, 84, 64, 96, 78, 28, 40,  40, 50, 84, 32, 37, 32, 34, 64, 64, 64, 64, 64, 64, 64, 64,
    64, 64, 34, 34, 84, 84, 84, 54, 100, 69, 69, 70, 78, 64, 58, 78, 76, 30, 30, 66, 56, 87, 75, 79,
    61, 79, 70, 64, 62, 74, 69, 99, 69,  62, 69, 40, 34, 40, 84, 50, 50, 62, 64, 55, 64, 62, 36, 64,
    64, 28, 28, 58, 28, 98, 64, 62, 64,  64, 42, 53, 40, 64, 60, 82, 60, 60, 53, 64, 34, 64, 84};

double character_em(char32_t code) {
  if (code >= 0x20 && code < 0x7f) return ascii_widths[code - 0x20] / 100.0;
  if (is_combining(code)) return 0.05;
  return is_wide(code) ? 1.2 : code < 0x2000 ? 0.8 : 1.03;
}

double character_columns(char32_t code) {
  return is_combining(code) ? 0.05 : is_wide(code) ? 2 : 1;
}

template <class Of>
double sum_over(std::string_view text, Of of) {
  double sum = 0;
  each_character(text, [&](std::string_view c) {
    sum += of(code_point(c));
    return true;
  });
  return sum;
}

/// The longest start of text that takes at most limit, in bytes.
std::size_t fitting(std::string_view text, double limit, Width width) {
  std::size_t bytes = 0;
  double taken = 0;
  each_character(text, [&](std::string_view c) {
    taken += width(c);
    if (taken > limit) return false;
    bytes += c.size();
    return true;
  });
  return bytes;
}

/// Behind the last hyphen inside a word in the first `fits` bytes; 0 without one.
std::size_t behind_hyphen(std::string_view text, std::size_t fits) {
  const auto is_letter = [](char c) { return std::isalpha(static_cast<unsigned char>(c)) != 0; };
  for (std::size_t at = std::min(fits, text.size() - 1); at-- > 1;)
    if (text[at] == '-' && is_letter(text[at - 1]) && is_letter(text[at + 1])) return at + 1;
  return 0;
}

/// Where to break text that does not fit: at the last blank of what fits, or behind the last hyphen
/// in a word, unless that leaves the line mostly empty.
std::size_t break_at(std::string_view text, double limit, Width width) {
  const std::size_t fits = std::max(fitting(text, limit, width), length_of(text));
  if (fits < text.size() && text[fits] == ' ') return fits;
  const std::size_t blank = text.substr(0, fits).rfind(' ');
  const std::size_t end =
      std::max(blank == std::string_view::npos ? 0 : blank, behind_hyphen(text, fits));
  return end < std::max<std::size_t>(fits / 2, 1) ? fits : end;
}

std::string octal(unsigned char byte) {
  std::string digits = "\\";
  for (const int shift : {6, 3, 0}) digits += static_cast<char>('0' + ((byte >> shift) & 7));
  return digits;
}

}  // namespace

std::string markup_escaped(std::string_view text) {
  std::string result;
  for (const char c : text) {
    switch (c) {
      case '&':
        result += "&amp;";
        break;
      case '<':
        result += "&lt;";
        break;
      case '>':
        result += "&gt;";
        break;
      case '"':
        result += "&quot;";
        break;
      case '\'':
        result += "&#39;";
        break;
      default:
        result += c;
    }
  }
  return result;
}

std::string gnuplot_literal(std::string_view bytes) {
  constexpr std::string_view plain = " .,:;+-=()/";
  std::string literal = "\"";
  for (const char c : drawable(bytes)) {
    const auto byte = static_cast<unsigned char>(c);
    const bool is_plain = (c >= '0' && c <= '9') || (c >= 'a' && c <= 'z') ||
                          (c >= 'A' && c <= 'Z') || plain.find(c) != std::string_view::npos;
    literal += is_plain || byte >= 0x80 ? std::string(1, c) : octal(byte);
  }
  return literal + "\"";
}

double width_em(std::string_view text) { return sum_over(text, character_em); }

double columns(std::string_view text) { return sum_over(text, character_columns); }

std::string shortened(std::string_view text, double limit, Width width) {
  if (fitting(text, limit, width) == text.size()) return std::string(text);
  const std::string_view kept = text.substr(0, fitting(text, limit - width(ellipsis), width));
  return std::string(trimmed(kept)) + std::string(ellipsis);
}

std::vector<std::string> wrapped(std::string_view text, double limit, std::size_t max_lines,
                                 Width width) {
  std::vector<std::string> lines;
  text = trimmed(text);
  while (lines.size() + 1 < max_lines && fitting(text, limit, width) < text.size()) {
    const std::size_t end = break_at(text, limit, width);
    lines.emplace_back(trimmed(text.substr(0, end)));
    text = trimmed(text.substr(end));
  }
  lines.push_back(shortened(text, limit, width));
  return lines;
}

}  // namespace ohmtilt::plots
