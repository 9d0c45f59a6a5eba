// Held against the standard library's own characters of a double, which not every platform has.
#include <bit>
#include <charconv>
#include <cmath>
#include <cstdint>
#include <random>

#include <ohmtilt/text/portable_number.h>

#include "tests/support.h"

namespace ohmtilt {
namespace {

std::string standard_text(double value) {
  char buffer[400];
  return {buffer, std::to_chars(buffer, buffer + sizeof buffer, value).ptr};
}

std::optional<double> standard_number(std::string_view text) {
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc() || end != text.data() + text.size()) return std::nullopt;
  return value;
}

void expect_same_number(const std::string& text) {
  const auto ours = portable_parse_number(text), standard = standard_number(text);
  ASSERT_EQ(ours.has_value(), standard.has_value()) << text;
  if (!ours || std::isnan(*standard)) return;
  EXPECT_EQ(std::bit_cast<std::uint64_t>(*ours), std::bit_cast<std::uint64_t>(*standard)) << text;
}

TEST(PortableNumber, WritesAsTheStandardLibrary) {
  std::mt19937_64 random(1);
  for (int i = 0; i < 20000; ++i) {
    const double any = std::bit_cast<double>(random());
    const double power_of_two = std::ldexp(1.0, static_cast<int>(random() % 2098) - 1074);
    const double few_digits = static_cast<double>(random() % 1000000) *
                              std::pow(10, static_cast<int>(random() % 40) - 20);
    for (const double value : {any, power_of_two, few_digits})
      EXPECT_EQ(portable_number_text(value), standard_text(value));
  }
}

TEST(PortableNumber, ReadsAsTheStandardLibrary) {
  for (const char* text : {"inf",
                           "-inf",
                           "nan",
                           "-nan",
                           "NaN(ab_1)",
                           "nan(",
                           "infinity",
                           "1e400",
                           "1e-400",
                           "4e-324",
                           "2.4e-324",
                           "2.5e-324",
                           "1e-320",
                           "0e999",
                           "0x10",
                           "1e",
                           "1e+",
                           ".5",
                           "5.",
                           ".",
                           " 1",
                           "1 ",
                           "-",
                           "--1",
                           "-+1",
                           "1.7976931348623158e308",
                           "1.7976931348623159e308",
                           "0.0000e-9999",
                           "1e99999999999999999999",
                           "1e-99999999999999999999",
                           ""})
    expect_same_number(text);
  const std::string letters = "0123456789..eE+--infaINFty()x_ ";
  std::mt19937_64 random(2);
  for (int i = 0; i < 200000; ++i) {
    std::string text;
    for (std::size_t size = 1 + random() % 7; text.size() < size;)
      text += letters[random() % letters.size()];
    expect_same_number(text);
  }
}

}  // namespace
}  // namespace ohmtilt
