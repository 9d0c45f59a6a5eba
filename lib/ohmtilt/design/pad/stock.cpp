#include <ohmtilt/design/pad/stock.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/input_file.h>
#include <ohmtilt/text/resistor_code.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

constexpr std::size_t most_values = 10'000;

void read_line(std::string_view line, Place place, std::vector<double>& values) {
  line = line.substr(0, line.find('#'));
  constexpr std::string_view between = " \t,;";
  for (std::size_t at = line.find_first_not_of(between); at != std::string_view::npos;
       at = line.find_first_not_of(between, at)) {
    const std::size_t end = std::min(line.find_first_of(between, at), line.size());
    const std::string_view word = line.substr(at, end - at);
    place.column = static_cast<long>(at) + 1;
    const auto ohm = resistance_of_text(word);
    if (!ohm)
      throw InputError(place, "\"" + printable(word, 40) + "\" is no resistance",
                       "give a number of ohms or a code such as 4R7");
    values.push_back(*ohm);
    at = end;
  }
}

}  // namespace

std::optional<double> resistance_of_text(std::string_view text) {
  auto ohm = parse_number(text);
  if (!ohm) {
    try {
      ohm = parse_resistance_code(text);
    } catch (const InputError&) {
      return std::nullopt;
    }
  }
  return *ohm > 0 && std::isfinite(*ohm) ? ohm : std::nullopt;
}

std::vector<double> parse_stock(std::string_view text, const std::string& name) {
  std::vector<double> values;
  long number = 0;
  while (!text.empty()) {
    const std::size_t end = text.find('\n');
    read_line(text.substr(0, end), {name, ++number, 0}, values);
    text = end == std::string_view::npos ? std::string_view() : text.substr(end + 1);
  }
  std::sort(values.begin(), values.end());
  values.erase(std::unique(values.begin(), values.end()), values.end());
  if (values.empty())
    throw InputError(Place{name}, "there is no resistance in it", "list them one a line");
  if (values.size() > most_values)
    throw InputError(Place{name}, "there are more than 10000 resistances in it",
                     "list those that may be used");
  return values;
}

std::vector<double> read_stock(const std::filesystem::path& file) {
  return parse_stock(read_text_file(file), file.string());
}

}  // namespace ohmtilt
