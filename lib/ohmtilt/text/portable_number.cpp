#include <fmt/format.h>

#include <ohmtilt/text/portable_number.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <cerrno>
#include <cmath>
#include <cstdlib>

namespace ohmtilt {
namespace {

/// |value| = 0.digits times ten to the power of point; digits neither begin nor end with a zero.
struct ShortestDigits {
  std::string digits;
  int point = 0;
};

ShortestDigits shortest_digits(double magnitude) {
  const std::string text = fmt::format("{}", magnitude);
  const std::string mantissa = text.substr(0, text.find('e'));
  ShortestDigits found;
  if (mantissa.size() < text.size()) found.point = std::atoi(text.c_str() + mantissa.size() + 1);
  found.point += static_cast<int>(std::min(mantissa.find('.'), mantissa.size()));
  for (const char c : mantissa)
    if (c != '.') found.digits += c;
  const auto zeros = found.digits.find_first_not_of('0');
  found.digits.erase(0, zeros);
  found.point -= static_cast<int>(zeros);
  found.digits.erase(found.digits.find_last_not_of('0') + 1);
  return found;
}

std::string fixed_text(const ShortestDigits& shortest, double magnitude) {
  const int size = static_cast<int>(shortest.digits.size());
  if (shortest.point >= size) return fmt::format("{:.0f}", magnitude);
  if (shortest.point <= 0)
    return "0." + std::string(static_cast<std::size_t>(-shortest.point), '0') + shortest.digits;
  std::string text = shortest.digits;
  return text.insert(static_cast<std::size_t>(shortest.point), ".");
}

std::string exponent_text(const ShortestDigits& shortest) {
  std::string text = shortest.digits.substr(0, 1);
  if (shortest.digits.size() > 1) text += "." + shortest.digits.substr(1);
  const int exponent = shortest.point - 1;
  return text + fmt::format("e{}{:02d}", exponent < 0 ? '-' : '+', std::abs(exponent));
}

/// How many characters of text, from start on, are digits.
std::size_t digits_at(std::string_view text, std::size_t start) {
  std::size_t end = start;
  while (end < text.size() && text[end] >= '0' && text[end] <= '9') ++end;
  return end - start;
}

/// Whether all of text is digits with a point among them or not, and perhaps an exponent.
bool is_decimal(std::string_view text) {
  std::size_t at = digits_at(text, 0), digits = at;
  if (at < text.size() && text[at] == '.') {
    const std::size_t more = digits_at(text, ++at);
    digits += more, at += more;
  }
  if (digits == 0 || at == text.size()) return digits > 0;
  if (text[at] != 'e' && text[at] != 'E') return false;
  if (++at < text.size() && (text[at] == '+' || text[at] == '-')) ++at;
  const std::size_t exponent = digits_at(text, at);
  return exponent > 0 && at + exponent == text.size();
}

/// "inf", "infinity", "nan" and "nan(...)" with letters, digits and low lines.
std::optional<double> named_number(std::string_view text) {
  const std::string name = lower(text);
  if (name == "inf" || name == "infinity") return INFINITY;
  if (name == "nan") return std::nan("");
  const auto in_name = [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '_';
  };
  const bool payload = name.starts_with("nan(") && name.ends_with(")") &&
                       std::all_of(name.begin() + 4, name.end() - 1, in_name);
  return payload ? std::optional(std::nan("")) : std::nullopt;
}

}  // namespace

std::string portable_number_text(double value) {
  if (!std::isfinite(value) || value == 0) return fmt::format("{}", value);
  const ShortestDigits shortest = shortest_digits(std::abs(value));
  const std::string fixed = fixed_text(shortest, std::abs(value));
  const std::string exponent = exponent_text(shortest);
  return (value < 0 ? "-" : "") + (exponent.size() < fixed.size() ? exponent : fixed);
}

std::optional<double> portable_parse_number(std::string_view text) {
  const bool negative = text.starts_with('-');
  const std::string magnitude(text.substr(negative));
  if (const auto named = named_number(magnitude)) return negative ? -*named : *named;
  if (!is_decimal(magnitude)) return std::nullopt;
  const double value = std::strtod(magnitude.c_str(), nullptr);
  const bool zero = magnitude.substr(0, magnitude.find_first_of("eE")).find_first_of("123456789") ==
                    std::string::npos;
  if (std::isinf(value) || (value == 0 && !zero)) return std::nullopt;
  return negative ? -value : value;
}

}  // namespace ohmtilt
