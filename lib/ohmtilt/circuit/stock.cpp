#include <ohmtilt/circuit/stock.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/input_file.h>
#include <ohmtilt/text/resistor_code.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

constexpr std::size_t most_values = 10'000;

bool is_positive(double value) { return value > 0 && std::isfinite(value); }

/// "4.7u" is 4.7e-6; nothing for anything that is no positive number.
std::optional<double> prefixed_number(std::string_view text) {
  constexpr std::pair<std::string_view, double> prefixes[] = {
      {"p", 1e12}, {"n", 1e9}, {"u", 1e6}, {"\u00b5", 1e6}, {"\u03bc", 1e6}, {"m", 1e3}};
  double divisor = 1;
  for (const auto& [prefix, value] : prefixes)
    if (text.ends_with(prefix)) {
      text.remove_suffix(prefix.size());
      divisor = value;
      break;
    }
  const auto number = parse_number(text);
  return number && is_positive(*number / divisor) ? std::optional(*number / divisor) : std::nullopt;
}

/// The value of "4.7uF" where unit is 'F'.
std::optional<double> value_in(std::string_view text, char unit) {
  if (!text.ends_with(unit)) return std::nullopt;
  return prefixed_number(text.substr(0, text.size() - 1));
}

std::optional<StockCoil> coil_of_text(std::string_view text) {
  const auto slash = text.find('/');
  const auto henry = value_in(text.substr(0, slash), 'H');
  if (!henry || slash == std::string_view::npos)
    return henry ? std::optional(StockCoil{*henry, {}}) : std::nullopt;
  const auto ohm = resistance_of_text(text.substr(slash + 1));
  return ohm ? std::optional(StockCoil{*henry, ohm}) : std::nullopt;
}

bool add_part(std::string_view word, Stock& stock) {
  if (const auto ohm = resistance_of_text(word)) {
    stock.ohms.push_back(*ohm);
    return true;
  }
  if (const auto farad = value_in(word, 'F')) {
    stock.farads.push_back(*farad);
    return true;
  }
  const auto coil = coil_of_text(word);
  if (coil) stock.coils.push_back(*coil);
  return coil.has_value();
}

void read_line(std::string_view line, Place place, Stock& stock) {
  line = line.substr(0, line.find('#'));
  constexpr std::string_view between = " \t\r,;";
  for (std::size_t at = line.find_first_not_of(between); at != std::string_view::npos;
       at = line.find_first_not_of(between, at)) {
    const std::size_t end = std::min(line.find_first_of(between, at), line.size());
    const std::string_view word = line.substr(at, end - at);
    place.column = static_cast<long>(at) + 1;
    if (!add_part(word, stock))
      throw InputError(place, "\"" + printable(word, 40) + "\" is no part",
                       "give ohms or a code such as 4R7, a coil such as 100uH or a capacitor such "
                       "as 4.7uF");
    at = end;
  }
}

void sort_unique(std::vector<double>& values) {
  std::sort(values.begin(), values.end());
  values.erase(std::unique(values.begin(), values.end()), values.end());
}

void sort_unique(std::vector<StockCoil>& coils) {
  const auto key = [](const StockCoil& coil) {
    return std::pair(coil.henry, coil.ohm.value_or(-1));
  };
  std::sort(coils.begin(), coils.end(),
            [&](const auto& a, const auto& b) { return key(a) < key(b); });
  const auto same = [&](const auto& a, const auto& b) { return key(a) == key(b); };
  coils.erase(std::unique(coils.begin(), coils.end(), same), coils.end());
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
  return is_positive(*ohm) ? ohm : std::nullopt;
}

Stock parse_stock(std::string_view text, const std::string& name) {
  Stock stock;
  long number = 0;
  while (!text.empty()) {
    const std::size_t end = text.find('\n');
    read_line(text.substr(0, end), {name, ++number, 0}, stock);
    text = end == std::string_view::npos ? std::string_view() : text.substr(end + 1);
  }
  sort_unique(stock.ohms);
  sort_unique(stock.coils);
  sort_unique(stock.farads);
  const std::size_t parts = stock.ohms.size() + stock.coils.size() + stock.farads.size();
  if (parts == 0) throw InputError(Place{name}, "there is no part in it", "list one per line");
  if (parts > most_values)
    throw InputError(Place{name}, "there are more than 10000 parts in it",
                     "list those that may be used");
  return stock;
}

Stock read_stock(const std::filesystem::path& file) {
  return parse_stock(read_text_file(file), file.string());
}

}  // namespace ohmtilt
