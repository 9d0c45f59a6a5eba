#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/physical.h>
#include <ohmtilt/curve/touchstone.h>
#include <ohmtilt/text/characters.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/input_file.h>
#include <ohmtilt/text/number_range.h>
#include <ohmtilt/text/table_cells.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

/// An impedance as the curve keeps it.
struct Polar {
  double magnitude_ohm = 0;
  double phase_deg = 0;
};

Polar polar(Complex z) { return {std::abs(z), std::atan2(z.imag(), z.real()) / degree}; }

/// The pair of figures of a line as a magnitude and an angle in degrees.
Polar magnitude_and_angle(double first, double second, TouchstoneFormat format) {
  if (format == TouchstoneFormat::real_imaginary) return polar({first, second});
  if (format == TouchstoneFormat::decibel_angle) return {amplitude_from_db(first), second};
  return {first, second};
}

Complex complex_of(double first, double second, TouchstoneFormat format) {
  if (format == TouchstoneFormat::real_imaginary) return {first, second};
  const Polar p = magnitude_and_angle(first, second, format);
  return p.magnitude_ohm * Complex(std::cos(p.phase_deg * degree), std::sin(p.phase_deg * degree));
}

/// The impedance a pair of figures stands for; not finite where it is infinite.
/// Version 1: Z and Y figures are normalised, z = Z/R and y = Y R; S = (Z - R)/(Z + R).
Polar impedance_of(double first, double second, const TouchstoneOptions& options) {
  const double norm = options.version == 1 ? options.reference_ohm : 1;
  if (options.parameter == TouchstoneParameter::scattering) {
    const Complex s = complex_of(first, second, options.format);
    return polar(options.reference_ohm * (1.0 + s) / (1.0 - s));
  }
  const Polar p = magnitude_and_angle(first, second, options.format);
  if (options.parameter == TouchstoneParameter::impedance)
    return {p.magnitude_ohm * norm, p.phase_deg};
  return {norm / p.magnitude_ohm, -p.phase_deg};
}

const std::vector<std::string>& keywords() {
  static const std::vector<std::string> words = {"version",
                                                 "number of ports",
                                                 "two-port data order",
                                                 "two-port order",
                                                 "number of frequencies",
                                                 "number of noise frequencies",
                                                 "reference",
                                                 "matrix format",
                                                 "mixed-mode order",
                                                 "begin information",
                                                 "end information",
                                                 "network data",
                                                 "noise data",
                                                 "end"};
  return words;
}

/// Reads a one-port file line by line.
class Reader {
 public:
  Reader(std::string_view text, const std::string& name) : text_(text) { port_.file = name; }

  Read<TouchstoneOnePort> read() {
    for (std::size_t start = 0; start < text_.size() && !ended_;) {
      const std::size_t end = std::min(text_.find('\n', start), text_.size());
      ++line_;
      whole_line_ = text_.substr(start, end - start);
      take_line();
      start = end + 1;
    }
    finish();
    return {std::move(port_), std::move(warnings_)};
  }

 private:
  void take_line() {
    const auto mark = whole_line_.find('!');
    if (mark != std::string_view::npos) take_comment(whole_line_.substr(mark + 1));
    const auto line = table::without_blanks(whole_line_.substr(0, mark));
    if (line.empty()) return;
    if (line.front() == '[') return take_keyword(line);
    if (in_information_) return;
    if (line.front() == '#') return take_option_line(line.substr(1));
    if (awaits_reference_) return take_reference(line);
    take_point(line);
  }

  void take_comment(std::string_view comment) {
    const auto colon = comment.find(':');
    if (colon > 40 || port_.notes.size() >= most_notes) return;
    port_.notes.push_back({lower(trimmed(comment.substr(0, colon))),
                           std::string(trimmed(comment.substr(colon + 1))), line_});
  }

  void take_option_line(std::string_view words) {
    if (has_options_) return;  // the specification: further option lines are ignored
    const int version = port_.options.version;
    const Place place = here();
    port_.options = parse_touchstone_options(words, place);
    port_.options.version = version;
    if (reference_ohm_ > 0) port_.options.reference_ohm = reference_ohm_;
    has_options_ = true;
  }

  void take_keyword(std::string_view line) {
    const auto closing = line.find(']');
    if (closing == std::string_view::npos)
      throw InputError(here(), "the keyword has no closing bracket", "write it as [Keyword] value");
    const std::string keyword = lower(trimmed(line.substr(1, closing - 1)));
    const auto value = trimmed(line.substr(closing + 1));
    if (in_information_ && keyword != "end information") return;
    if (keyword == "version") return take_version(value);
    if (port_.options.version != 2)
      throw InputError(here(),
                       "[" + printable(keyword, 40) + "] stands in a file without [Version] 2.0",
                       "begin the file with [Version] 2.0");
    take_version_2_keyword(keyword, value);
  }

  void take_version(std::string_view value) {
    if (has_options_ || !hz_.empty() || (value != "2.0" && value != "2.1"))
      throw InputError(here(), "[Version] " + printable(value, 20) + " is not understood here",
                       "give version 2.0 on the first line; files of version 1 have no such line");
    port_.options.version = 2;
  }

  void take_version_2_keyword(const std::string& keyword, std::string_view value) {
    if (keyword == "number of ports") return require_one_port(value);
    if (keyword == "number of frequencies") return take_count(value);
    if (keyword == "reference") return take_reference_keyword(value);
    if (keyword == "begin information" || keyword == "end information") {
      in_information_ = keyword == "begin information";
      return;
    }
    if (keyword == "network data") return take_network_data();
    if (keyword == "end") {
      ended_ = true;
      return;
    }
    if (keyword == "matrix format") return;  // a matrix of one has one form
    refuse_keyword(keyword);
  }

  void take_network_data() {
    if (!has_options_) refuse_without_options();
    network_data_ = true;
  }

  [[noreturn]] void refuse_keyword(const std::string& keyword) const {
    const std::string name = "[" + printable(keyword, 40) + "]";
    const auto nearest = nearest_word(keyword, keywords());
    if (nearest && *nearest == keyword)
      throw InputError(here(), name + " belongs to files of two and more ports", "give a one-port");
    throw InputError(here(), name + " is no keyword of the format",
                     nearest ? "did you mean [" + *nearest + "]?" : "remove the line");
  }

  void require_one_port(std::string_view value) {
    const auto ports = parse_number(value);
    if (ports && *ports == 1) return;
    throw InputError(here(), "the number of ports is \"" + printable(value, 20) + "\"",
                     "give a one-port file");
  }

  void take_count(std::string_view value) {
    const auto count = parse_number(value);
    if (!count || !(*count >= 1) || *count > 1e9 || *count != std::floor(*count))
      throw InputError(here(), "the number of frequencies is \"" + printable(value, 20) + "\"",
                       "give a whole number above 0");
    stated_count_ = static_cast<std::size_t>(*count);
  }

  void take_reference_keyword(std::string_view value) {
    if (value.empty())
      awaits_reference_ = true;
    else
      take_reference(value);
  }

  void take_reference(std::string_view value) {
    awaits_reference_ = false;
    const auto ohm = parse_number(value);
    if (!ohm || !(*ohm > 0) || !std::isfinite(*ohm))
      throw InputError(
          here(), "the reference \"" + printable(value, 40) + "\" is no resistance above 0 ohm",
          "give one number in ohm");
    reference_ohm_ = *ohm;
    port_.options.reference_ohm = *ohm;
  }

  [[noreturn]] void refuse_without_options() const {
    throw InputError(here(), "there is no option line above the data",
                     "put one on top, for example \"# Hz Z RI R 1\"");
  }

  void take_point(std::string_view line) {
    if (!has_options_) refuse_without_options();
    table::split(line, Separator::blanks, cells_);
    if (cells_.size() != 3) refuse_cells();
    double figures[3];
    for (std::size_t i = 0; i < 3; ++i) figures[i] = figure(cells_[i]);
    const double hz = figures[0] * port_.options.unit_hz;
    check_frequency(hz, figures[0]);
    add_point(hz, figures[1], figures[2]);
  }

  [[noreturn]] void refuse_cells() const {
    throw InputError(
        here(),
        std::to_string(cells_.size()) + (cells_.size() == 1 ? " figure" : " figures") +
            " on the line, where a one-port has 3 (a frequency and one pair)",
        cells_.size() == 9 ? "this is a two-port; give a one-port file" : "complete the line");
  }

  double figure(std::string_view cell) const {
    const auto value = parse_number(cell);
    if (value && std::isfinite(*value)) return *value;
    throw InputError(here(cell), "\"" + printable(cell, 60) + "\" stands where a number belongs",
                     "write a finite number with a decimal point");
  }

  void check_frequency(double hz, double figure) const {
    if (!(hz > 0) || !std::isfinite(hz))
      throw InputError(
          here(cells_[0]),
          "the frequency must be positive and finite (got " + number_text(figure) + ")",
          "remove the line; a curve in ln f has no place for it");
    if (!is_in_range("frequency_hz", hz))
      throw InputError(here(cells_[0]), "frequency_hz " + beyond_range(hz),
                       range_remedy("frequency_hz"));
    if (hz_.empty() || hz > hz_.back()) return;
    if (hz == hz_.back())
      throw InputError(here(cells_[0]), "frequency " + number_text(hz) + " Hz stands twice",
                       "keep one line a frequency");
    throw InputError(here(cells_[0]),
                     "frequency must rise (got " + number_text(hz) + " Hz after " +
                         number_text(hz_.back()) + " Hz)",
                     "sort the lines by frequency");
  }

  void add_point(double hz, double first, double second) {
    if (hz_.size() == most_points)
      throw InputError(here(), "there are more than " + std::to_string(most_points) + " points",
                       "thin the file out");
    const bool polar_form = port_.options.format == TouchstoneFormat::magnitude_angle;
    if (polar_form && first < 0)
      throw InputError(here(cells_[1]), "a magnitude is negative (" + number_text(first) + ")",
                       "turn its sign and its angle by 180 degrees, or use RI");
    const Polar z = impedance_of(first, second, port_.options);
    if (!std::isfinite(z.magnitude_ohm) || !std::isfinite(z.phase_deg))
      throw InputError(here(cells_[1]),
                       "the impedance is infinite here (S = 1, Y = 0 or out of range)",
                       "remove the line; an open circuit is no earphone");
    if (!(z.magnitude_ohm > 0))
      throw InputError(here(cells_[1]), "the impedance is zero here",
                       "remove the line; a short circuit is no earphone");
    if (!magnitude_is_physical(z.magnitude_ohm))
      throw InputError(here(cells_[1]),
                       "the impedance is " + number_text(z.magnitude_ohm) +
                           " ohm here, beyond anything physical",
                       "check the option line and the unit");
    if (hz_.empty()) port_.first_line = line_;
    hz_.push_back(hz);
    ohm_.push_back(z.magnitude_ohm);
    deg_.push_back(z.phase_deg);
  }

  void finish() {
    if (hz_.empty())
      throw InputError(Place{port_.file}, "there are no data lines in it",
                       "give a frequency and one pair a line");
    if (stated_count_ && *stated_count_ != hz_.size())
      throw InputError(Place{port_.file},
                       "[Number of Frequencies] says " + std::to_string(*stated_count_) +
                           " and there are " + std::to_string(hz_.size()),
                       "complete the file or correct the number");
    if (port_.options.version == 2) warn_of_missing_keywords();
    const auto array = [](const std::vector<double>& values) -> Array {
      return Eigen::Map<const Array>(values.data(), static_cast<Eigen::Index>(values.size()));
    };
    port_.frequency_hz = array(hz_);
    port_.magnitude_ohm = array(ohm_);
    port_.phase_deg = array(deg_);
    if (auto active = active_warning(port_.frequency_hz, port_.phase_deg))
      warnings_.push_back(std::move(*active));
  }

  void warn_of_missing_keywords() {
    if (!network_data_) warnings_.push_back("no [Network Data] line stands above the data");
    if (!stated_count_) warnings_.push_back("[Number of Frequencies] is missing");
    if (!ended_) warnings_.push_back("no [End] line closes the file; it may have been cut off");
  }

  Place here() const { return {port_.file, line_, 0}; }
  Place here(std::string_view cell) const {
    return {port_.file, line_, cell.data() - whole_line_.data() + 1};
  }

  static constexpr std::size_t most_notes = 10'000;
  static constexpr std::size_t most_points = 5'000'000;
  std::string_view text_, whole_line_;
  TouchstoneOnePort port_;
  std::vector<std::string> warnings_;
  std::vector<double> hz_, ohm_, deg_;
  table::Cells cells_;
  long line_ = 0;
  std::optional<std::size_t> stated_count_;
  double reference_ohm_ = 0;
  bool has_options_ = false, in_information_ = false, awaits_reference_ = false;
  bool network_data_ = false, ended_ = false;
};

std::string note(const TouchstoneOnePort& port, std::string_view key) {
  for (const auto& found : port.notes)
    if (found.key == key) return one_line(found.value);
  return "";
}

CurveNotes notes_of(const TouchstoneOnePort& port) {
  CurveNotes notes{note(port, "title"), note(port, "condition"), note(port, "origin"), port.file};
  if (notes.title.empty()) notes.title = one_line(std::filesystem::path(port.file).stem().string());
  return notes;
}

CurveLayout layout_of(const TouchstoneOnePort& port) {
  const bool version_2 = port.options.version == 2;
  const char* units[] = {"ohm", "degrees"};
  const std::string kind =
      port.options.parameter == TouchstoneParameter::impedance ? "" : ", converted";
  return {version_2 ? "Touchstone 2.0" : "Touchstone 1.1",
          to_string(port.options),
          {{"", "frequency", to_string(port.options).substr(0, to_string(port.options).find(' ')),
            false},
           {"", "magnitude", units[0] + kind, false},
           {"", "phase", units[1], false}},
          false};
}

}  // namespace

Read<TouchstoneOnePort> read_touchstone(const std::filesystem::path& file) {
  return Reader(read_text_file(file), file.string()).read();
}

Read<TouchstoneOnePort> parse_touchstone(std::string bytes, const std::string& name) {
  const std::string text = checked_text(std::move(bytes), name);
  return Reader(text, name).read();
}

CurveFile<ImpedanceCurve> impedance_from_touchstone(const std::string& text,
                                                    const std::string& name) {
  auto [port, warnings] = Reader(text, name).read();
  if (port.frequency_hz.size() < 2)
    throw InputError(Place{name, port.first_line, 0}, "a curve of one point has no range",
                     "give at least two frequencies");
  CurveLayout layout = layout_of(port);
  return {{ImpedanceCurve(notes_of(port), std::move(port.frequency_hz),
                          std::move(port.magnitude_ohm), std::move(port.phase_deg)),
           std::move(warnings)},
          std::move(layout)};
}

}  // namespace ohmtilt
