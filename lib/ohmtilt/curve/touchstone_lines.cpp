#include <ohmtilt/base/decibel.h>
#include <ohmtilt/curve/touchstone_lines.h>
#include <ohmtilt/text/characters.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/number_range.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

constexpr std::size_t most_touchstone_notes = 10'000, most_touchstone_points = 5'000'000;
constexpr std::size_t noise_figures = 5;  // frequency, figure, reflection (two), resistance

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

}  // namespace

Complex touchstone_complex(double first, double second, TouchstoneFormat format) {
  if (format == TouchstoneFormat::real_imaginary) return {first, second};
  const double magnitude =
      format == TouchstoneFormat::decibel_angle ? amplitude_from_db(first) : first;
  return magnitude * Complex(std::cos(second * degree), std::sin(second * degree));
}

void TouchstoneLines::read_lines() {
  for (std::size_t start = 0; start < text_.size() && !ended_;) {
    const std::size_t end = std::min(text_.find('\n', start), text_.size());
    ++line_;
    whole_line_ = text_.substr(start, end - start);
    take_line();
    start = end + 1;
  }
  finish();
}

TouchstoneLines::Matrix TouchstoneLines::matrix() const {
  return half_.value_or(order_.value_or(Matrix::order_21_12));
}

double TouchstoneLines::reference_ohm(std::size_t port) const {
  return port < references_.size() ? references_[port] : options_.reference_ohm;
}

std::string TouchstoneLines::note(std::string_view key) const {
  for (const auto& found : notes_)
    if (found.key == key) return one_line(found.value);
  return "";
}

void TouchstoneLines::take_line() {
  const auto mark = whole_line_.find('!');
  if (mark != std::string_view::npos) take_comment(whole_line_.substr(mark + 1));
  const auto line = table::without_blanks(whole_line_.substr(0, mark));
  if (line.empty()) return;
  if (line.front() == '[') return take_keyword(line);
  if (in_information_) return;
  if (line.front() == '#') return take_option_line(line.substr(1));
  if (awaits_reference_) return take_references(line);
  take_point(line);
}

void TouchstoneLines::take_comment(std::string_view comment) {
  const auto colon = comment.find(':');
  if (colon > 40 || notes_.size() >= most_touchstone_notes) return;
  notes_.push_back({lower(trimmed(comment.substr(0, colon))),
                    std::string(trimmed(comment.substr(colon + 1))), line_});
}

void TouchstoneLines::take_option_line(std::string_view words) {
  if (has_options_) return;  // the specification: further option lines are ignored
  const int version = options_.version;
  options_ = parse_touchstone_options(words, here());
  options_.version = version;
  has_options_ = true;
}

void TouchstoneLines::take_keyword(std::string_view line) {
  const auto closing = line.find(']');
  if (closing == std::string_view::npos)
    throw InputError(here(), "the keyword has no closing bracket", "write it as [Keyword] value");
  const std::string keyword = lower(trimmed(line.substr(1, closing - 1)));
  const auto value = trimmed(line.substr(closing + 1));
  if (in_information_ && keyword != "end information") return;
  if (keyword == "version") return take_version(value);
  if (options_.version != 2)
    throw InputError(here(),
                     "[" + printable(keyword, 40) + "] stands in a file without [Version] 2.0",
                     "begin the file with [Version] 2.0");
  take_version_2_keyword(keyword, value);
}

void TouchstoneLines::take_version(std::string_view value) {
  if (has_options_ || !hz_.empty() || (value != "2.0" && value != "2.1"))
    throw InputError(here(), "[Version] " + printable(value, 20) + " is not understood here",
                     "give version 2.0 on the first line; files of version 1 have no such line");
  options_.version = 2;
}

void TouchstoneLines::take_version_2_keyword(const std::string& keyword, std::string_view value) {
  if (keyword == "number of ports") return require_ports(value);
  if (keyword == "number of frequencies") return take_count(value);
  if (keyword == "begin information" || keyword == "end information") {
    in_information_ = keyword == "begin information";
    return;
  }
  if (keyword == "network data") return take_network_data();
  if (keyword == "end") {
    ended_ = true;
    return;
  }
  if (keyword == "reference") {
    references_.clear();
    awaits_reference_ = true;
    if (!value.empty()) take_references(value);
    return;
  }
  take_matrix_keyword(keyword, value);
}

void TouchstoneLines::take_matrix_keyword(const std::string& keyword, std::string_view value) {
  const std::string word = lower(value);
  if (keyword == "matrix format") {  // a matrix of one has one form
    if (ports_ == 1 || word == "full") return;
    if (word != "lower" && word != "upper")
      refuse_order("[Matrix Format] is \"" + printable(value, 20) + "\"");
    half_ = word == "lower" ? Matrix::lower : Matrix::upper;
    return;
  }
  if (ports_ == 1) refuse_keyword(keyword);
  if (keyword == "two-port data order" || keyword == "two-port order") {
    if (word != "12_21" && word != "21_12")
      refuse_order("[Two-Port Data Order] is \"" + printable(value, 20) + "\"");
    order_ = word == "12_21" ? Matrix::order_12_21 : Matrix::order_21_12;
    return;
  }
  if (keyword == "number of noise frequencies") return;
  if (keyword != "noise data") refuse_keyword(keyword);
  warnings_.push_back("the file's noise data are left out");
  ended_ = true;
}

void TouchstoneLines::refuse_order(const std::string& wrong) const {
  throw InputError(here(), wrong, "write Full, Lower or Upper; 12_21 or 21_12");
}

void TouchstoneLines::take_network_data() {
  if (!has_options_) refuse_without_options();
  if (ports_ == 2 && !order_ && !half_)
    throw InputError(here(), "[Two-Port Data Order] is missing",
                     "write 21_12 or 12_21 above the data: which of the two comes first");
  network_data_ = true;
}

void TouchstoneLines::refuse_keyword(const std::string& keyword) const {
  const std::string name = "[" + printable(keyword, 40) + "]";
  const auto nearest = nearest_word(keyword, keywords());
  if (nearest && *nearest == keyword)
    throw InputError(here(),
                     name + (ports_ == 1 ? " belongs to files of two and more ports"
                                         : " belongs to files of pairs of conductors"),
                     ports_ == 1 ? "give a one-port" : "give a two-port of single conductors");
  throw InputError(here(), name + " is no keyword of the format",
                   nearest ? "did you mean [" + *nearest + "]?" : "remove the line");
}

void TouchstoneLines::require_ports(std::string_view value) const {
  const auto ports = parse_number(value);
  if (ports && *ports == static_cast<double>(ports_)) return;
  throw InputError(here(), "the number of ports is \"" + printable(value, 20) + "\"",
                   ports_ == 1 ? "give a one-port file" : "give a two-port file");
}

void TouchstoneLines::take_count(std::string_view value) {
  const auto count = parse_number(value);
  if (!count || !(*count >= 1) || *count > 1e9 || *count != std::floor(*count))
    throw InputError(here(), "the number of frequencies is \"" + printable(value, 20) + "\"",
                     "give a whole number above 0");
  stated_count_ = static_cast<std::size_t>(*count);
}

void TouchstoneLines::take_references(std::string_view value) {
  const table::Cells cells = table::split(value, Separator::blanks);
  const bool one = ports_ == 1;
  for (const auto cell : cells) {
    const auto ohm = parse_number(one ? value : cell);
    if (!ohm || !(*ohm > 0) || !std::isfinite(*ohm) || references_.size() == ports_)
      throw InputError(
          here(), "the reference \"" + printable(value, 40) + "\" is no resistance above 0 ohm",
          one ? "give one number in ohm" : "give one number in ohm for each port");
    references_.push_back(*ohm);
  }
  awaits_reference_ = references_.size() < ports_;
}

void TouchstoneLines::refuse_without_options() const {
  throw InputError(here(), "there is no option line above the data",
                   ports_ == 1 ? "put one on top, for example \"# Hz Z RI R 1\""
                               : "put one on top, for example \"# Hz S RI R 50\"");
}

std::size_t TouchstoneLines::figures_wanted() const { return ports_ == 1 ? 2 : half_ ? 6 : 8; }

/// Noise figures follow a two-port's data in version 1, from a lower frequency on.
bool TouchstoneLines::begins_noise(const std::vector<double>& figures) const {
  return ports_ == 2 && options_.version == 1 && figures.size() == noise_figures && !hz_.empty() &&
         figures[0] * options_.unit_hz <= hz_.back();
}

void TouchstoneLines::take_point(std::string_view line) {
  if (!has_options_) refuse_without_options();
  if (ports_ == 2 && options_.version == 2 && !network_data_) take_network_data();
  table::split(line, Separator::blanks, cells_);
  std::vector<double> figures;
  if (cells_.size() == figures_wanted() + 1 || (ports_ == 2 && cells_.size() == noise_figures))
    for (const auto cell : cells_) figures.push_back(figure(cell));
  if (begins_noise(figures)) {
    warnings_.push_back("the file's noise data are left out");
    ended_ = true;
    return;
  }
  if (cells_.size() != figures_wanted() + 1) refuse_cells();
  const double hz = figures[0] * options_.unit_hz;
  check_frequency(hz, figures[0]);
  if (hz_.size() == most_touchstone_points)
    throw InputError(here(),
                     "there are more than " + std::to_string(most_touchstone_points) + " points",
                     "thin the file out");
  if (options_.format == TouchstoneFormat::magnitude_angle)
    for (std::size_t i = 1; i < figures.size(); i += 2)
      if (figures[i] < 0)
        throw InputError(here(cells_[i]),
                         "a magnitude is negative (" + number_text(figures[i]) + ")",
                         "turn its sign and its angle by 180 degrees, or use RI");
  figures.erase(figures.begin());
  add_point(hz, figures);
  if (hz_.empty()) first_line_ = line_;
  hz_.push_back(hz);
}

void TouchstoneLines::refuse_cells() const {
  const std::size_t count = cells_.size();
  const std::string found = std::to_string(count) + (count == 1 ? " figure" : " figures");
  if (ports_ == 1)
    throw InputError(
        here(), found + " on the line, where a one-port has 3 (a frequency and one pair)",
        count == 9 ? "this is a two-port, which a chain takes as a stage; give a one-port file"
                   : "complete the line");
  throw InputError(here(),
                   found + " on the line, where a two-port has " +
                       std::to_string(figures_wanted() + 1) + " (a frequency and " +
                       std::to_string(figures_wanted() / 2) + " pairs)",
                   count == 3 ? "this is a one-port; give a two-port file" : "complete the line");
}

double TouchstoneLines::figure(std::string_view cell) const {
  const auto value = parse_number(cell);
  if (value && std::isfinite(*value)) return *value;
  throw InputError(here(cell), "\"" + printable(cell, 60) + "\" stands where a number belongs",
                   "write a finite number with a decimal point");
}

void TouchstoneLines::check_frequency(double hz, double figure) const {
  if (!(hz > 0) || !std::isfinite(hz))
    throw InputError(here(cells_[0]),
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

void TouchstoneLines::finish() {
  if (hz_.empty())
    throw InputError(Place{file_}, "there are no data lines in it",
                     ports_ == 1 ? "give a frequency and one pair a line"
                                 : "give a frequency and four pairs a line");
  if (stated_count_ && *stated_count_ != hz_.size())
    throw InputError(Place{file_},
                     "[Number of Frequencies] says " + std::to_string(*stated_count_) +
                         " and there are " + std::to_string(hz_.size()),
                     "complete the file or correct the number");
  if (options_.version == 2) warn_of_missing_keywords();
}

void TouchstoneLines::warn_of_missing_keywords() {
  if (!network_data_) warnings_.push_back("no [Network Data] line stands above the data");
  if (!stated_count_) warnings_.push_back("[Number of Frequencies] is missing");
  if (!ended_) warnings_.push_back("no [End] line closes the file; it may have been cut off");
}

}  // namespace ohmtilt
