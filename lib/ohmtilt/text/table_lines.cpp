#include <ohmtilt/text/table_cells.h>
#include <ohmtilt/text/table_lines.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <array>

namespace ohmtilt::table {
namespace {

constexpr std::size_t most_lines_above = 10'000;

constexpr std::array<unsigned char, 256> mark_table = [] {
  std::array<unsigned char, 256> marks{};
  marks[','] = comma_mark;
  marks[';'] = semicolon_mark;
  marks['\t'] = tab_mark;
  marks[' '] = blank_mark;
  marks['.'] = point_mark;
  marks['"'] = quote_mark;
  for (const char c : {'#', '!', '/'}) marks[static_cast<unsigned char>(c)] = comment_mark;
  return marks;
}();

/// A whole line in one pair of quotes that is not a number.
bool is_quoted_text(std::string_view line) {
  const char quote = line.front();
  if ((quote != '"' && quote != '\'') || line.size() < 2 || line.back() != quote) return false;
  const auto inner = line.substr(1, line.size() - 2);
  return inner.find(quote) == std::string_view::npos && !number(inner, DecimalMark::point) &&
         !number(inner, DecimalMark::comma);
}

/// Length of the mark that makes a comment of the (not empty) line, or 0.
std::size_t comment_mark_length(std::string_view line) {
  if (line.starts_with("//")) return 2;
  if (std::string_view("#;*!%").find(line.front()) != std::string_view::npos) return 1;
  return is_quoted_text(line) ? 1 : 0;
}

std::string_view comment_body(std::string_view line) {
  if (is_quoted_text(line)) line = line.substr(1, line.size() - 2);
  const auto first = line.find_first_not_of("#;*!%/ \t");
  return first == std::string_view::npos ? std::string_view{} : without_blanks(line.substr(first));
}

bool starts_like_number(std::string_view line, const NumberTableOptions& options) {
  const auto digit = [](char c) { return c >= '0' && c <= '9'; };
  if (digit(line.front())) return true;
  const auto cell = line.substr(0, line.find_first_of(",; \t"));
  const bool quoted = cell.size() >= 2 && (cell.front() == '"' || cell.front() == '\'');
  const auto bare = quoted ? cell.substr(1, cell.find(cell.front(), 1) - 1) : cell;
  if (number(bare, DecimalMark::point)) return true;
  if (line.size() > 1 && line.front() == ',' && digit(line[1])) return true;
  if (line.size() > 1 && line.front() == '"' && digit(line[1])) return true;
  return options.other_number && options.other_number(bare).has_value();
}

/// Whether a comment line among the rows is a row that lost its first cell (;90) or was starred out
/// (*1000,90): numbers and nothing else behind the mark.
bool is_faulty_row(std::string_view line) {
  if (line.front() != ';' && line.front() != '*') return false;
  bool any = false;
  for (std::size_t i = 1; i < line.size();) {
    const std::size_t end = std::min(line.find_first_of(",; \t", i), line.size());
    const auto cell = line.substr(i, end - i);
    if (!cell.empty() && !number(cell, DecimalMark::point)) return false;
    any = any || !cell.empty();
    i = end + 1;
  }
  return any;
}

/// Whether what stands there is how spreadsheets write a cell without a value: #N/A, #VALUE!,
/// #DIV/0!.
bool is_missing_value(std::string_view text) {
  static constexpr std::string_view words[] = {"#n/a",  "#na",   "#value!", "#div/0!",
                                               "#num!", "#ref!", "#null!",  "#name?"};
  const std::string start = lower(text.substr(0, 8));
  return std::any_of(std::begin(words), std::end(words), [&](std::string_view word) {
    return start.starts_with(word) &&
           (text.size() == word.size() ||
            std::string_view(",; \t\"'").find(text[word.size()]) != std::string_view::npos);
  });
}

/// line up to a comment that follows its numbers.
std::string_view without_comment(std::string_view line) {
  std::size_t end = line.find_first_of("#!");
  while (end != std::string_view::npos && is_missing_value(line.substr(end)))
    end = line.find_first_of("#!", line.find_first_of(",; \t\"'", end));
  end = std::min({end, line.find("//"), line.size()});
  return without_blanks(line.substr(0, end));
}

class Sorter {
 public:
  Sorter(std::string_view text, const std::string& name, const NumberTableOptions& options)
      : text_(text), name_(name), options_(options) {}

  Lines sort() {
    lines_.rows.reserve(std::min(text_.size() / 16, options_.most_rows));
    for (std::size_t start = 0; start < text_.size();) {
      const std::size_t end = std::min(text_.find('\n', start), text_.size());
      ++line_;
      add(without_blanks(text_.substr(start, end - start)));
      start = end + 1;
    }
    if (lines_.rows.empty())
      throw InputError(Place{name_}, "there is no line of numbers in it",
                       "give a table with a frequency or another number in its first column");
    return std::move(lines_);
  }

 private:
  void add(std::string_view line) {
    if (line.empty()) return;
    if (line.size() > most_line_bytes)
      throw InputError(here(), "the line is " + std::to_string(line.size()) + " bytes long",
                       "put one row on a line");
    const std::size_t mark = comment_mark_length(line);
    if (mark > 0 && !lines_.rows.empty() && is_faulty_row(line))
      throw InputError(here(),
                       "the row begins with \"" + std::string(1, line.front()) +
                           "\" where its first number belongs",
                       "write the number, or begin the line with '#' if it is a comment");
    if (mark > 0) return add_comment(line);
    if (lines_.rows.empty() && !starts_like_number(line, options_)) return add_heading(line);
    add_row(line);
  }

  void add_row(std::string_view line) {
    unsigned marks = marks_in(line);
    if (marks & comment_mark) {
      line = without_comment(line);
      marks = marks_in(line);
    }
    if (line.empty()) return;
    if (lines_.rows.size() == options_.most_rows)
      throw InputError(here(),
                       "there are more than " + std::to_string(options_.most_rows) + " rows",
                       "thin the table out");
    if (marks & quote_mark) marks = outside_quotes(line);
    lines_.marks |= marks;
    lines_.rows.push_back(at(line));
  }

  unsigned outside_quotes(std::string_view line) {
    bool quoted = false;
    unsigned marks = quote_mark;
    for (const char c : line) {
      const unsigned mark = mark_table[static_cast<unsigned char>(c)];
      if (c == '"') quoted = !quoted;
      if (quoted && c == ',') lines_.quoted_comma = true;
      if (!quoted || c == '.') marks |= mark;
    }
    return marks;
  }

  void add_comment(std::string_view line) {
    const auto body = comment_body(line);
    if (body.empty()) return;
    if (lines_.rows.empty()) {
      check_count(lines_.comments.size());
      lines_.comments.push_back(at(body));
    }
    const auto colon = body.find(':');
    if (colon == std::string_view::npos || colon == 0 || colon > 40) return;
    check_count(lines_.notes.size());
    lines_.notes.push_back({lower(trimmed(body.substr(0, colon))),
                            std::string(trimmed(body.substr(colon + 1))), line_});
  }

  void add_heading(std::string_view line) {
    if (lower(line).starts_with("sep=")) return;  // a spreadsheet's hint; the rows show it too
    check_count(lines_.headings.size());
    lines_.headings.push_back(at(line));
  }

  void check_count(std::size_t count) const {
    if (count >= most_lines_above)
      throw InputError(
          here(),
          "there are more than " + std::to_string(most_lines_above) + " lines of text in the table",
          "keep the numbers and one header line");
  }

  TextLine at(std::string_view line) const {
    return {static_cast<std::size_t>(line.data() - text_.data()),
            static_cast<std::uint32_t>(line.size()), static_cast<std::uint32_t>(line_)};
  }
  Place here() const { return {name_, line_, 0}; }

  static constexpr std::size_t most_line_bytes = std::size_t{1} << 20;
  std::string_view text_;
  const std::string& name_;
  const NumberTableOptions& options_;
  Lines lines_;
  long line_ = 0;
};

}  // namespace

unsigned marks_in(std::string_view line) {
  unsigned marks = 0;
  for (const char c : line) marks |= mark_table[static_cast<unsigned char>(c)];
  return marks;
}

Lines sort_lines(std::string_view text, const std::string& name,
                 const NumberTableOptions& options) {
  return Sorter(text, name, options).sort();
}

}  // namespace ohmtilt::table
