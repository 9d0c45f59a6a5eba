#include <ohmtilt/curve/touchstone.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/table_cells.h>
#include <ohmtilt/text/text.h>
#include <cmath>

namespace ohmtilt {
namespace {

enum class Slot { unit, parameter, format, reference };

/// Reads the words of an option line one by one; each kind may stand once, in any order.
class OptionWords {
 public:
  OptionWords(std::string_view words, const Place& line) : line_(line) {
    table::split(words, Separator::blanks, words_);
    options_ = {1, 1e9, TouchstoneParameter::scattering, TouchstoneFormat::magnitude_angle, 50};
  }

  TouchstoneOptions parse() {
    for (next_ = 0; next_ < words_.size(); ++next_) add(lower(words_[next_]));
    return options_;
  }

 private:
  void add(const std::string& word) {
    if (add_unit(word) || add_parameter(word) || add_format(word)) return;
    if (word == "r") return add_reference();
    refuse(word);
  }

  bool add_unit(const std::string& word) {
    const double unit = word == "hz"    ? 1
                        : word == "khz" ? 1e3
                        : word == "mhz" ? 1e6
                        : word == "ghz" ? 1e9
                                        : 0;
    if (unit == 0) return false;
    take(Slot::unit, word);
    options_.unit_hz = unit;
    return true;
  }

  bool add_parameter(const std::string& word) {
    if (word != "s" && word != "y" && word != "z") return false;
    take(Slot::parameter, word);
    options_.parameter = word == "s"   ? TouchstoneParameter::scattering
                         : word == "y" ? TouchstoneParameter::admittance
                                       : TouchstoneParameter::impedance;
    return true;
  }

  bool add_format(const std::string& word) {
    if (word != "ma" && word != "db" && word != "ri") return false;
    take(Slot::format, word);
    options_.format = word == "ma"   ? TouchstoneFormat::magnitude_angle
                      : word == "db" ? TouchstoneFormat::decibel_angle
                                     : TouchstoneFormat::real_imaginary;
    return true;
  }

  void add_reference() {
    take(Slot::reference, "R");
    ++next_;
    const auto ohm = next_ < words_.size() ? parse_number(words_[next_]) : std::nullopt;
    if (!ohm || !(*ohm > 0) || !std::isfinite(*ohm))
      throw InputError(line_, "R in the option line is not followed by a resistance above 0 ohm",
                       "write for example \"R 50\"");
    options_.reference_ohm = *ohm;
  }

  void take(Slot slot, const std::string& word) {
    bool& taken = taken_[static_cast<std::size_t>(slot)];
    if (taken)
      throw InputError(
          line_, "\"" + word + "\" in the option line says a second time what stands before it",
          "keep one unit, one parameter, one format and one R");
    taken = true;
  }

  [[noreturn]] void refuse(const std::string& word) const {
    const std::string wrong = "\"" + printable(word, 40) + "\" in the option line ";
    if (word == "h" || word == "g")
      throw InputError(line_, wrong + "belongs to two-ports", "give S, Y or Z");
    if (word.ends_with("hz"))
      throw InputError(line_, wrong + "is no unit of frequency", "use Hz, kHz, MHz or GHz");
    if (word.size() == 1) throw InputError(line_, wrong + "is no parameter", "use S, Y or Z");
    throw InputError(line_, wrong + "is not understood",
                     "write the line as \"# kHz S RI R 50\": unit, parameter, format, R and ohms");
  }

  Place line_;
  table::Cells words_;
  TouchstoneOptions options_;
  std::size_t next_ = 0;
  bool taken_[4] = {};
};

bool has_ending(std::string_view name) {
  const std::string end = lower(std::filesystem::path(name).extension().string());
  if (end == ".ts") return true;
  return end.size() >= 4 && end[1] == 's' && end.back() == 'p' &&
         end.find_first_not_of("0123456789", 2) == end.size() - 1;
}

/// Whether the words after a '#' are an option line beyond doubt: "# Hz Z" over a table of two
/// columns is not, a parameter together with a format or a reference is.
bool is_option_line(std::string_view words) {
  bool parameter = false, format_or_reference = false;
  const table::Cells cells = table::split(words, Separator::blanks);
  for (std::size_t i = 0; i < cells.size(); ++i) {
    const std::string word = lower(cells[i]);
    if (word == "r" && i + 1 < cells.size() && parse_number(cells[i + 1])) {
      format_or_reference = true;
      ++i;
    } else if (word == "ma" || word == "db" || word == "ri") {
      format_or_reference = true;
    } else if (word == "s" || word == "y" || word == "z") {
      parameter = true;
    } else if (word != "hz" && word != "khz" && word != "mhz" && word != "ghz") {
      return false;
    }
  }
  return parameter && format_or_reference;
}

}  // namespace

TouchstoneOptions parse_touchstone_options(std::string_view words, const Place& line) {
  return OptionWords(words, line).parse();
}

std::string to_string(const TouchstoneOptions& options) {
  const char* unit = options.unit_hz == 1     ? "Hz"
                     : options.unit_hz == 1e3 ? "kHz"
                     : options.unit_hz == 1e6 ? "MHz"
                                              : "GHz";
  const char* parameter = options.parameter == TouchstoneParameter::scattering   ? "S"
                          : options.parameter == TouchstoneParameter::admittance ? "Y"
                                                                                 : "Z";
  const char* format = options.format == TouchstoneFormat::magnitude_angle ? "MA"
                       : options.format == TouchstoneFormat::decibel_angle ? "DB"
                                                                           : "RI";
  return std::string(unit) + " " + parameter + " " + format + " R " +
         number_text(options.reference_ohm);
}

bool is_touchstone(std::string_view text, std::string_view name) {
  if (has_ending(name)) return true;
  for (std::size_t start = 0; start < text.size();) {
    const std::size_t end = std::min(text.find('\n', start), text.size());
    auto line = text.substr(start, end - start);
    line = table::without_blanks(line.substr(0, line.find('!')));
    start = end + 1;
    if (line.empty()) continue;
    if (line.front() == '#') return is_option_line(line.substr(1));
    return lower(line.substr(0, 9)) == "[version]";
  }
  return false;
}

}  // namespace ohmtilt
