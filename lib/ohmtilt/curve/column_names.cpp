#include <ohmtilt/curve/column_names.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <numbers>
#include <vector>

namespace ohmtilt {
namespace {

enum class Kind { none, hertz, ohm, decibel, angle, foreign };

struct Unit {
  Kind kind = Kind::none;
  double scale = 1;
  const char* text = "";
};

struct UnitWord {
  const char* word;
  Unit unit;
};

constexpr double degrees_per_radian = 180 / std::numbers::pi;

const std::vector<UnitWord>& unit_words() {
  static const std::vector<UnitWord> words = {
      {"hz", {Kind::hertz, 1, "Hz"}},
      {"hertz", {Kind::hertz, 1, "Hz"}},
      {"cps", {Kind::hertz, 1, "Hz"}},
      {"khz", {Kind::hertz, 1e3, "kHz"}},
      {"kilohertz", {Kind::hertz, 1e3, "kHz"}},
      {"mhz", {Kind::hertz, 1e6, "MHz"}},
      {"ohm", {Kind::ohm, 1, "ohm"}},
      {"ohms", {Kind::ohm, 1, "ohm"}},
      {"kohm", {Kind::ohm, 1e3, "kohm"}},
      {"kohms", {Kind::ohm, 1e3, "kohm"}},
      {"kiloohm", {Kind::ohm, 1e3, "kohm"}},
      {"kiloohms", {Kind::ohm, 1e3, "kohm"}},
      {"kilohm", {Kind::ohm, 1e3, "kohm"}},
      {"kilohms", {Kind::ohm, 1e3, "kohm"}},
      {"mohm", {Kind::ohm, 1e-3, "mohm"}},
      {"mohms", {Kind::ohm, 1e-3, "mohm"}},
      {"milliohm", {Kind::ohm, 1e-3, "mohm"}},
      {"milliohms", {Kind::ohm, 1e-3, "mohm"}},
      {"megohm", {Kind::ohm, 1e6, "Mohm"}},
      {"megohms", {Kind::ohm, 1e6, "Mohm"}},
      {"db", {Kind::decibel, 1, "dB"}},
      {"dbspl", {Kind::decibel, 1, "dB"}},
      {"dbr", {Kind::decibel, 1, "dB"}},
      {"decibel", {Kind::decibel, 1, "dB"}},
      {"decibels", {Kind::decibel, 1, "dB"}},
      {"deg", {Kind::angle, 1, "degrees"}},
      {"degs", {Kind::angle, 1, "degrees"}},
      {"degree", {Kind::angle, 1, "degrees"}},
      {"degrees", {Kind::angle, 1, "degrees"}},
      {"grad", {Kind::angle, 1, "degrees"}},
      {"degre", {Kind::angle, 1, "degrees"}},
      {"degres", {Kind::angle, 1, "degrees"}},
      {"grado", {Kind::angle, 1, "degrees"}},
      {"grados", {Kind::angle, 1, "degrees"}},
      {"gradi", {Kind::angle, 1, "degrees"}},
      {"mrad", {Kind::angle, degrees_per_radian / 1000, "milliradians"}},
      {"rad", {Kind::angle, degrees_per_radian, "radians"}},
      {"rads", {Kind::angle, degrees_per_radian, "radians"}},
      {"radian", {Kind::angle, degrees_per_radian, "radians"}},
      {"radians", {Kind::angle, degrees_per_radian, "radians"}}};
  return words;
}

struct NameWord {
  const char* word;
  CurveColumn column;
};

const std::vector<NameWord>& name_words() {
  using enum CurveColumn;
  static const std::vector<NameWord> words = {{"f", frequency},
                                              {"freq", frequency},
                                              {"frequency", frequency},
                                              {"frequencies", frequency},
                                              {"frequenz", frequency},
                                              {"frequence", frequency},
                                              {"frecuencia", frequency},
                                              {"frequenza", frequency},
                                              {"frequentie", frequency},
                                              {"frekvens", frequency},
                                              {"frq", frequency},
                                              {"z", magnitude},
                                              {"mag", magnitude},
                                              {"magnitude", magnitude},
                                              {"modulus", magnitude},
                                              {"impedance", magnitude},
                                              {"impedanz", magnitude},
                                              {"impedancia", magnitude},
                                              {"impedenza", magnitude},
                                              {"impedantie", magnitude},
                                              {"impedans", magnitude},
                                              {"imp", magnitude},
                                              {"abs", magnitude},
                                              {"absz", magnitude},
                                              {"betrag", magnitude},
                                              {"zmag", magnitude},
                                              {"magz", magnitude},
                                              {"zabs", magnitude},
                                              {"zmod", magnitude},
                                              {"modz", magnitude},
                                              {"module", magnitude},
                                              {"resistance", resistance},
                                              {"resistanz", resistance},
                                              {"spl", level},
                                              {"level", level},
                                              {"response", level},
                                              {"amplitude", level},
                                              {"gain", level},
                                              {"pegel", level},
                                              {"phase", phase},
                                              {"phas", phase},
                                              {"ph", phase},
                                              {"angle", phase},
                                              {"arg", phase},
                                              {"argz", phase},
                                              {"argument", phase},
                                              {"phi", phase},
                                              {"theta", phase},
                                              {"zphase", phase},
                                              {"phasez", phase},
                                              {"fase", phase},
                                              {"winkel", phase},
                                              {"phz", phase},
                                              {"re", real},
                                              {"real", real},
                                              {"rez", real},
                                              {"zre", real},
                                              {"zreal", real},
                                              {"realz", real},
                                              {"rs", real},
                                              {"esr", real},
                                              {"realteil", real},
                                              {"z'", real},
                                              {"im", imaginary},
                                              {"imag", imaginary},
                                              {"imaginary", imaginary},
                                              {"imz", imaginary},
                                              {"zim", imaginary},
                                              {"zimag", imaginary},
                                              {"imagz", imaginary},
                                              {"xs", imaginary},
                                              {"reactance", imaginary},
                                              {"imaginarteil", imaginary},
                                              {"z''", imaginary},
                                              {"uncertainty", uncertainty},
                                              {"sigma", uncertainty},
                                              {"unsicherheit", uncertainty},
                                              {"stdev", uncertainty}};
  return words;
}

void replace_all(std::string& text, std::string_view from, std::string_view to) {
  for (std::size_t at = 0; (at = text.find(from, at)) != std::string::npos; at += to.size())
    text.replace(at, from.size(), to);
}

/// Signs and letters beyond ASCII in names of columns, spelt in ASCII.
std::string spelt_out(std::string_view name) {
  static constexpr std::pair<const char*, const char*> signs[] = {{"\xce\xa9", "ohm"},
                                                                  {"\xe2\x84\xa6", "ohm"},
                                                                  {"\xc2\xb0", "deg"},
                                                                  {"\xc2\xba", "deg"},
                                                                  {"\xcf\x86", "phi"},
                                                                  {"\xcf\x95", "phi"},
                                                                  {"\xce\xa6", "phi"},
                                                                  {"\xce\xb8", "theta"},
                                                                  {"\xce\x98", "theta"},
                                                                  {"\xcf\x83", "sigma"},
                                                                  {"\xcf\x89", " omega "},
                                                                  {"\xe2\x88\xa0", "phase "},
                                                                  {"\xe2\x80\xb2", "'"},
                                                                  {"\xe2\x80\xb3", "''"},
                                                                  {"\xe2\x80\x99", "'"},
                                                                  {"\xe2\x88\x92", "-"},
                                                                  {"\xc2\xa0", " "},
                                                                  {"\xc3\xa9", "e"},
                                                                  {"\xc3\xa4", "a"},
                                                                  {"\xc3\xa8", "e"},
                                                                  {"\xc2\xb5", "u"},
                                                                  {"\xce\xbc", "u"},
                                                                  {"\xc3\x97", "*"},
                                                                  {"\xc2\xb2", "^"},
                                                                  {"%", " percent "},
                                                                  {"\xe2\x88\x9a", " root "},
                                                                  {"\xb0", "deg"},
                                                                  {"\xe9", "e"},
                                                                  {"\xe8", "e"}};
  std::string text(name.substr(0, 200));
  for (const auto& [from, to] : signs) replace_all(text, from, to);
  replace_all(text, "\"", "''");
  return text;
}

bool letter(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '\'' || (c >= '0' && c <= '9') ||
         static_cast<unsigned char>(c) >= 0x80;
}

std::vector<std::string> words_of(std::string_view text) {
  std::vector<std::string> words;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (!letter(text[i])) continue;
    const std::size_t start = i;
    while (i < text.size() && letter(text[i])) ++i;
    words.emplace_back(text.substr(start, i - start));
  }
  return words;
}

/// The unit a word spells. Of milli and mega only the case tells for ohms.
Unit unit_of(const std::string& word) {
  static const std::vector<std::string> foreign = {
      "v",     "mv",    "volt", "volts", "a",  "ma",   "ampere", "amperes", "amp",    "amps",
      "s",     "ms",    "us",   "w",     "mw", "watt", "watts",  "pa",      "pascal", "siemens",
      "farad", "henry", "uf",   "nf",    "pf", "mh",   "uh",     "root",    "per",    "percent"};
  const std::string small = lower(word);
  if (word.front() == 'M' && (small == "mohm" || small == "mohms")) return {Kind::ohm, 1e6, "Mohm"};
  if (word == "mHz") return {Kind::hertz, 1e-3, "mHz"};
  for (const auto& known : unit_words())
    if (small == known.word) return known.unit;
  const bool other = std::find(foreign.begin(), foreign.end(), small) != foreign.end();
  return {other ? Kind::foreign : Kind::none, 1, ""};
}

struct Words {
  std::vector<Unit> units;
  std::vector<CurveColumn> names;
  bool has(CurveColumn column) const {
    return std::find(names.begin(), names.end(), column) != names.end();
  }
};

std::optional<CurveColumn> named_column(const std::string& word) {
  const std::string small = lower(word);
  for (const auto& known : name_words())
    if (small == known.word) return known.column;
  return std::nullopt;
}

/// Reads a word; "f" is a frequency only as the first, elsewhere it is farad or the f of Z(f).
void add_word(Words& words, const std::string& word, bool first) {
  const auto column = named_column(word);
  if (column && (first || lower(word) != "f")) words.names.push_back(*column);
  const Unit unit = unit_of(word);
  if (unit.kind != Kind::none) words.units.push_back(unit);
}

/// The letter of a prefix that stands alone; empty if the word is none.
std::string prefix_of(const std::string& word) {
  const std::string small = lower(word);
  if (small == "k" || small == "kilo") return "k";
  if (word == "M" || small == "mega" || small == "meg") return "M";
  if (word == "m" || small == "milli") return "m";
  return "";
}

/// "k ohm" and "kilo ohm" are one word.
std::vector<std::string> with_joined_prefixes(std::vector<std::string> words) {
  for (std::size_t i = 0; i + 1 < words.size(); ++i) {
    const std::string next = lower(words[i + 1]);
    const std::string prefix = prefix_of(words[i]);
    if (prefix.empty() || (next != "ohm" && next != "ohms" && next != "hz")) continue;
    words[i] = prefix + (next == "hz" ? "Hz" : next);
    words.erase(words.begin() + static_cast<std::ptrdiff_t>(i) + 1);
  }
  return words;
}

/// The words of each bracket and of what stands behind each slash: where people put units.
std::vector<std::vector<std::string>> unit_places(std::string_view text) {
  std::vector<std::vector<std::string>> places;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (std::string_view("([{/").find(text[i]) == std::string_view::npos) continue;
    const auto end =
        std::min(text.find_first_of(text[i] == '/' ? "([{/" : ")]}", i + 1), text.size());
    places.push_back(with_joined_prefixes(words_of(text.substr(i + 1, end - i - 1))));
  }
  return places;
}

/// Words that change neither quantity nor unit.
bool is_neutral(const std::string& word) {
  static const std::vector<std::string> neutral = {
      "left", "right", "l",   "r",    "ch",      "channel",  "in",        "of",     "mean",
      "raw",  "x",     "avg", "part", "average", "measured", "unwrapped", "series", "load"};
  return std::find(neutral.begin(), neutral.end(), lower(word)) != neutral.end();
}

/// Whether a unit place holds a word that may be a unit nobody here knows: any unknown one, unless
/// the name gives its unit elsewhere. Behind decibels stands what they refer to.
bool is_strange(const std::vector<std::string>& place, bool unit_elsewhere) {
  bool unit = false, unknown = false;
  for (const auto& word : place) {
    const Kind kind = unit_of(word).kind;
    if (kind == Kind::decibel) break;
    unit = unit || kind != Kind::none;
    unknown = unknown || (kind == Kind::none && !named_column(word) && !is_neutral(word));
  }
  return unknown && (unit || !unit_elsewhere);
}

/// Whether the name is that of a power, a multiple, a reciprocal or a logarithm.
bool is_a_function(std::string_view text, const std::vector<std::string>& words,
                   const std::vector<Unit>& units) {
  if (text.find_first_of("^*") != std::string_view::npos || trimmed(text).starts_with("1/"))
    return true;
  const bool decibels = !units.empty() && units.front().kind == Kind::decibel;
  return !decibels && std::any_of(words.begin(), words.end(), [](const std::string& word) {
    static const std::vector<std::string> logarithms = {"log", "lg", "ln", "lb"};
    const std::string small = lower(word);
    const auto first = small.find_first_not_of("0123456789");
    if (first == std::string::npos) return false;
    const auto bare = small.substr(first, small.find_last_not_of("0123456789") + 1 - first);
    return std::find(logarithms.begin(), logarithms.end(), bare) != logarithms.end();
  });
}

Kind kind_of(CurveColumn column) {
  switch (column) {
    case CurveColumn::frequency:
      return Kind::hertz;
    case CurveColumn::level:
      return Kind::decibel;
    case CurveColumn::phase:
      return Kind::angle;
    case CurveColumn::magnitude:
    case CurveColumn::real:
    case CurveColumn::imaginary:
    case CurveColumn::resistance:
    case CurveColumn::uncertainty:
      return Kind::ohm;
  }
  return Kind::none;
}

/// The most telling of the names that agree with the unit: "Impedance phase" is a phase.
std::optional<CurveColumn> column_of(const Words& words, Kind unit) {
  using enum CurveColumn;
  for (const auto column :
       {uncertainty, phase, imaginary, real, resistance, level, magnitude, frequency})
    if (words.has(column) && (unit == Kind::none || kind_of(column) == unit)) return column;
  if (unit == Kind::decibel) return level;
  if (!words.names.empty()) return std::nullopt;
  if (unit == Kind::hertz) return frequency;
  if (unit == Kind::ohm) return magnitude;
  if (unit == Kind::angle) return phase;
  return std::nullopt;
}

std::optional<ColumnMeaning> own_meaning(std::string_view name) {
  using enum CurveColumn;
  static const std::vector<std::pair<std::string_view, CurveColumn>> names = {
      {"frequency_hz", frequency},
      {"magnitude_ohm", magnitude},
      {"magnitude_db", level},
      {"phase_deg", phase},
      {"real_ohm", real},
      {"imag_ohm", imaginary},
      {"uncertainty_ohm", uncertainty}};
  for (const auto& [own, column] : names)
    if (name == own) return ColumnMeaning{column, 1, default_unit(column), true};
  return std::nullopt;
}

/// "R (ohm)", "X (ohm)": single letters that mean a part of Z only with the unit beside them.
void add_single_letters(Words& words, const std::vector<std::string>& spelt) {
  const bool ohms = std::any_of(words.units.begin(), words.units.end(),
                                [](const Unit& unit) { return unit.kind == Kind::ohm; });
  if (!ohms || spelt.size() != 2) return;
  if (spelt[0] == "R") words.names.push_back(CurveColumn::real);
  if (spelt[0] == "X") words.names.push_back(CurveColumn::imaginary);
}

bool is_angular_frequency(const std::vector<std::string>& words) {
  for (std::size_t i = 0; i + 1 < words.size(); ++i)
    if (lower(words[i]) == "rad" && lower(words[i + 1]) == "s") return true;
  return false;
}

bool conflicting(const std::vector<Unit>& units) {
  return std::any_of(units.begin(), units.end(), [&](const Unit& unit) {
    return unit.kind == Kind::foreign || unit.kind != units.front().kind ||
           unit.scale != units.front().scale;
  });
}

}  // namespace

std::optional<ColumnMeaning> column_meaning(std::string_view name) {
  if (auto own = own_meaning(name)) return own;
  const std::string text = spelt_out(name);
  const auto spelt = with_joined_prefixes(words_of(text));
  if (is_angular_frequency(spelt))
    return ColumnMeaning{CurveColumn::frequency, 0.5 / std::numbers::pi, "rad/s", false};
  Words words;
  for (std::size_t i = 0; i < spelt.size(); ++i) add_word(words, spelt[i], i == 0);
  add_single_letters(words, spelt);
  if (conflicting(words.units) || is_a_function(text, spelt, words.units)) return std::nullopt;
  for (const auto& place : unit_places(text))
    if (is_strange(place, !words.units.empty())) return std::nullopt;
  const Unit unit = words.units.empty() ? Unit{} : words.units.front();
  const auto column = column_of(words, unit.kind);
  if (!column) return std::nullopt;
  const auto first = text.find_first_not_of(" (");
  const bool negated = first != std::string::npos && text[first] == '-';
  if (negated && *column != CurveColumn::imaginary && *column != CurveColumn::phase)
    return std::nullopt;
  return ColumnMeaning{*column, negated ? -unit.scale : unit.scale, unit.text, false};
}

std::string to_string(CurveColumn column) {
  switch (column) {
    case CurveColumn::frequency:
      return "frequency";
    case CurveColumn::magnitude:
      return "magnitude";
    case CurveColumn::level:
      return "level";
    case CurveColumn::phase:
      return "phase";
    case CurveColumn::real:
      return "real part";
    case CurveColumn::imaginary:
      return "imaginary part";
    case CurveColumn::resistance:
      return "resistance";
    case CurveColumn::uncertainty:
      return "uncertainty";
  }
  return "";
}

std::string default_unit(CurveColumn column) {
  switch (kind_of(column)) {
    case Kind::hertz:
      return "Hz";
    case Kind::decibel:
      return "dB";
    case Kind::angle:
      return "degrees";
    default:
      return "ohm";
  }
}

}  // namespace ohmtilt
