#include <ohmtilt/text/error.h>
#include <ohmtilt/text/resistor_code.h>
#include <ohmtilt/text/text.h>

#include <cmath>
#include <optional>

namespace ohmtilt {
namespace {

std::optional<double> multiplier(char letter) {
  switch (letter) {
    case 'R':
      return 1;
    case 'K':
    case 'k':
      return 1e3;
    case 'M':
      return 1e6;
    case 'G':
      return 1e9;
    case 'L':
      return 1e-3;
    default:
      return std::nullopt;
  }
}

bool all_digits(std::string_view text) {
  return text.find_first_not_of("0123456789") == std::string_view::npos;
}

[[noreturn]] void refuse(std::string_view text) {
  throw InputError(
      "\"" + printable(text, 40) + "\" is not a resistance code",
      "digits with one of R, K, M, G or L in place of the decimal point, like \"4R7\"");
}

// The letter, then three digits or fewer around it: 4.70 -> "4R7", 0.33 -> "R33", 47 -> "47R".
std::string with_letter(double scaled, char letter) {
  const int decimals = scaled < 1 ? 3 : scaled < 10 ? 2 : scaled < 100 ? 1 : 0;
  const auto units = static_cast<long>(std::llround(scaled * std::pow(10.0, decimals)));
  std::string digits = std::to_string(units);
  const auto places = static_cast<std::size_t>(decimals);
  if (digits.size() < places) digits.insert(0, places - digits.size(), '0');
  digits.insert(digits.size() - places, 1, letter);
  while (places > 0 && digits.back() == '0') digits.pop_back();
  return digits;
}

}  // namespace

double parse_resistance_code(std::string_view text) {
  const auto at = text.find_first_not_of("0123456789");
  if (at == std::string_view::npos || text.size() < 2 || text.size() > 5) refuse(text);
  const auto scale = multiplier(text[at]);
  const std::string before(text.substr(0, at)), after(text.substr(at + 1));
  if (!scale || !all_digits(after)) refuse(text);
  // One decimal to binary conversion, so that "4k7" is the very double that 4700 is.
  const int exponent = static_cast<int>(std::lround(std::log10(*scale)));
  return parse_number("0" + before + "." + after + "0e" + std::to_string(exponent)).value();
}

std::string resistance_code(double ohm) {
  if (!(ohm == 0 || (ohm >= 0.001 && ohm < 1e12)))
    throw InputError(number_text(ohm) + " ohm has no resistance code",
                     "0, or 0.001 up to 1e12 ohm");
  if (ohm == 0) return "0R";
  const double step = std::pow(10.0, std::floor(std::log10(ohm)) - 2);
  const double rounded = std::round(ohm / step) * step;
  if (rounded < 0.1 * (1 - 1e-9)) return with_letter(rounded * 1e3, 'L');
  if (rounded < 1e3 * (1 - 1e-9)) return with_letter(rounded, 'R');
  if (rounded < 1e6 * (1 - 1e-9)) return with_letter(rounded / 1e3, 'K');
  if (rounded < 1e9 * (1 - 1e-9)) return with_letter(rounded / 1e6, 'M');
  return with_letter(rounded / 1e9, 'G');
}

}  // namespace ohmtilt
