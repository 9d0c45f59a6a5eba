#include <ohmtilt/measure/meter_columns.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
#include <cctype>
#include <map>

namespace ohmtilt {
namespace {

enum class Measured { volt, ampere, ohm, hertz };

struct Unit {
  Measured of;
  double factor;
};

const std::map<std::string, Unit>& meter_units() {
  static const std::map<std::string, Unit> units{{"v", {Measured::volt, 1}},
                                                 {"volt", {Measured::volt, 1}},
                                                 {"volts", {Measured::volt, 1}},
                                                 {"vrms", {Measured::volt, 1}},
                                                 {"mv", {Measured::volt, 1e-3}},
                                                 {"millivolt", {Measured::volt, 1e-3}},
                                                 {"millivolts", {Measured::volt, 1e-3}},
                                                 {"mvrms", {Measured::volt, 1e-3}},
                                                 {"uv", {Measured::volt, 1e-6}},
                                                 {"microvolt", {Measured::volt, 1e-6}},
                                                 {"a", {Measured::ampere, 1}},
                                                 {"amp", {Measured::ampere, 1}},
                                                 {"amps", {Measured::ampere, 1}},
                                                 {"ampere", {Measured::ampere, 1}},
                                                 {"amperes", {Measured::ampere, 1}},
                                                 {"ma", {Measured::ampere, 1e-3}},
                                                 {"milliamp", {Measured::ampere, 1e-3}},
                                                 {"milliampere", {Measured::ampere, 1e-3}},
                                                 {"milliamperes", {Measured::ampere, 1e-3}},
                                                 {"ua", {Measured::ampere, 1e-6}},
                                                 {"ohm", {Measured::ohm, 1}},
                                                 {"ohms", {Measured::ohm, 1}},
                                                 {"kohm", {Measured::ohm, 1e3}},
                                                 {"kohms", {Measured::ohm, 1e3}},
                                                 {"hz", {Measured::hertz, 1}},
                                                 {"hertz", {Measured::hertz, 1}},
                                                 {"khz", {Measured::hertz, 1e3}},
                                                 {"kilohertz", {Measured::hertz, 1e3}}};
  return units;
}

const std::map<std::string, Measured>& quantities() {
  static const std::map<std::string, Measured> words{
      {"u", Measured::volt},         {"voltage", Measured::volt},    {"spannung", Measured::volt},
      {"tension", Measured::volt},   {"i", Measured::ampere},        {"current", Measured::ampere},
      {"strom", Measured::ampere},   {"resistance", Measured::ohm},  {"f", Measured::hertz},
      {"freq", Measured::hertz},     {"frequency", Measured::hertz}, {"frequenz", Measured::hertz},
      {"frequence", Measured::hertz}};
  return words;
}

/// Across what a voltage stands, or what a resistance is.
const std::map<std::string, std::string>& places_of_a_meter() {
  static const std::map<std::string, std::string> words{
      {"both", "both"},       {"total", "both"},
      {"source", "both"},     {"generator", "both"},
      {"all", "both"},        {"load", "load"},
      {"earphone", "load"},   {"headphone", "load"},
      {"headphones", "load"}, {"iem", "load"},
      {"dut", "load"},        {"z", "load"},
      {"last", "load"},       {"reference", "reference"},
      {"ref", "reference"},   {"resistor", "reference"},
      {"shunt", "reference"}, {"r", "reference"},
      {"sense", "reference"}, {"out", "output"},
      {"output", "output"}};
  return words;
}

/// Letters and digits in small letters, the rest between them; the sign for ohm as a word.
std::vector<std::string> words_of(std::string_view name) {
  std::string text = lower(name);
  for (const std::string_view sign : {"\xce\xa9", "\xcf\x89", "\xe2\x84\xa6"})
    for (std::size_t at; (at = text.find(sign)) != std::string::npos;)
      text.replace(at, sign.size(), "ohm");
  std::vector<std::string> words;
  bool inside = false;
  for (const char c : text) {
    const bool part = std::isalnum(static_cast<unsigned char>(c)) != 0 || (c & 0x80) != 0;
    if (part && !inside) words.emplace_back();
    if (part) words.back() += c;
    inside = part;
  }
  return words;
}

struct Understood {
  std::optional<Measured> of;
  std::optional<Unit> unit;
  std::string place;
  bool resistor = false;
  bool clear = true;  // no word unknown, no two that contradict
};

void take_unit(const Unit& unit, Understood& found) {
  // "V load (mV)": the word that scales is the unit, the other one says what is measured.
  if (found.unit && found.unit->factor != 1 && unit.factor != 1) found.clear = false;
  if (found.of && *found.of != unit.of) found.clear = false;
  if (!found.unit || found.unit->factor == 1) found.unit = unit;
  found.of = unit.of;
}

Understood understood(std::string_view name) {
  Understood found;
  for (const std::string& word : words_of(name)) {
    if (const auto unit = meter_units().find(word); unit != meter_units().end()) {
      take_unit(unit->second, found);
    } else if (const auto what = quantities().find(word); what != quantities().end()) {
      if (found.of && *found.of != what->second) found.clear = false;
      found.of = what->second;
    } else if (const auto place = places_of_a_meter().find(word);
               place != places_of_a_meter().end()) {
      const bool resistor = word == "r" || word == "resistor";  // "R load (ohm)"
      if (!found.place.empty() && found.place != place->second && !resistor && !found.resistor)
        found.clear = false;
      if (!resistor || found.place.empty()) found.place = place->second;
      found.resistor = found.resistor || resistor;
    } else {
      found.clear = false;
    }
  }
  return found;
}

/// Our own name of what was understood; empty for none.
std::string own_name(const Understood& found, bool of_loads) {
  if (of_loads && !found.of && !found.place.empty() && found.place != "output") return "load_ohm";
  if (!found.of) return "";
  switch (*found.of) {
    case Measured::hertz:
      return found.place.empty() ? "frequency_hz" : "";
    case Measured::ampere:
      return "ampere";
    case Measured::ohm:
      return "load_ohm";
    case Measured::volt:
      return of_loads ? "volt" : "volt_" + found.place;
  }
  return "";
}

}  // namespace

std::optional<MeterColumn> meter_column(std::string_view words,
                                        const std::vector<std::string>& known) {
  const auto is_known = [&](const std::string& name) {
    return std::find(known.begin(), known.end(), name) != known.end();
  };
  const std::string own = lower(trimmed(words));
  if (is_known(own)) return MeterColumn{own, 1};
  const Understood found = understood(words);
  if (!found.clear) return std::nullopt;
  const std::string name = own_name(found, is_known("load_ohm"));
  if (!is_known(name)) return std::nullopt;
  return MeterColumn{name, found.unit ? found.unit->factor : 1};
}

}  // namespace ohmtilt
