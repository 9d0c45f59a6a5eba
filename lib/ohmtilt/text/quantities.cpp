#include <fmt/format.h>

#include <ohmtilt/text/quantities.h>
#include <ohmtilt/text/text.h>
#include <cmath>
#include <string_view>

namespace ohmtilt {
namespace {

/// digits times a power of ten, as "57e-2" reads.
struct Decimal {
  long long digits = 0;
  int exponent = 0;
  double value() const { return *parse_number(fmt::format("{}e{}", digits, exponent)); }
};

/// The nearest decimal of so many digits.
Decimal nearest_decimal(double value, int figures) {
  const std::string text = fmt::format("{:.{}e}", value, figures - 1);
  const auto e = text.find('e');
  std::string digits = text.substr(0, e);
  std::erase(digits, '.');
  return {std::stoll(digits), std::stoi(text.substr(e + 1)) - figures + 1};
}

/// The next lower one of so many digits: 99e3 below 10e4.
Decimal below(Decimal decimal, int figures) {
  const auto least = static_cast<long long>(std::llround(std::pow(10, figures - 1)));
  if (decimal.digits > least) return {decimal.digits - 1, decimal.exponent};
  return {10 * least - 1, decimal.exponent - 1};
}

}  // namespace

std::string significant(double value, int figures) {
  const std::string text = fmt::format("{:.{}g}", value, figures);
  if (text.find("e+") == std::string::npos || std::abs(value) >= 1e7) return text;
  const double step = std::pow(10.0, std::floor(std::log10(std::abs(value))) - figures + 1);
  return fmt::format("{:.0f}", std::round(value / step) * step);
}

std::string significant_down(double value, int figures) {
  if (!(value > 0) || !std::isfinite(value)) return significant(value, figures);
  Decimal decimal = nearest_decimal(value, figures);
  if (decimal.value() > value) decimal = below(decimal, figures);
  return significant(decimal.value(), figures);
}

std::string significant_up(double value, int figures) {
  if (!(value > 0) || !std::isfinite(value)) return significant(value, figures);
  Decimal decimal = nearest_decimal(value, figures);
  if (decimal.value() < value) ++decimal.digits;
  return significant(decimal.value(), figures);
}

std::string hz_text(double hz) {
  if (hz < 999.5) return significant(hz) + " Hz";
  return hz < 999.5e3 ? significant(hz / 1e3) + " kHz" : significant(hz / 1e6) + " MHz";
}

}  // namespace ohmtilt
