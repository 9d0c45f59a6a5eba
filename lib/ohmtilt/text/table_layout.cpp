#include <ohmtilt/text/table_layout.h>
#include <ohmtilt/text/text.h>
#include <algorithm>

namespace ohmtilt::table {
namespace {

std::size_t commas_in(std::string_view line) {
  return static_cast<std::size_t>(std::count(line.begin(), line.end(), ','));
}

bool every_comma_before_blank(std::string_view line) {
  for (std::size_t i = 0; i + 1 < line.size(); ++i)
    if (line[i] == ',' && line[i + 1] != ' ' && line[i + 1] != '\t') return false;
  return true;
}

bool digit(char c) { return c >= '0' && c <= '9'; }

/// Whether each cell between blanks is a number if its comma is a decimal mark between digits.
bool decimal_commas_between_blanks(std::string_view line) {
  const Cells cells = split(line, Separator::blanks);
  return cells.size() > 1 && std::all_of(cells.begin(), cells.end(), [](std::string_view cell) {
           const auto comma = cell.find(',');
           const bool inside = comma == std::string_view::npos ||
                               (comma > 0 && digit(cell[comma - 1]) && comma + 1 < cell.size() &&
                                digit(cell[comma + 1]));
           return inside && number(cell, DecimalMark::comma).has_value();
         });
}

/// Whether left,right could be one number with a decimal comma.
bool joins(std::string_view left, std::string_view right) {
  if (!left.empty() && (left.front() == '-' || left.front() == '+')) left.remove_prefix(1);
  const bool digits_left = !left.empty() && std::all_of(left.begin(), left.end(), digit);
  return digits_left && !right.empty() && digit(right.front());
}

/// Whether the line still has at least least_columns columns and reads as numbers when some of its
/// commas are decimal marks; reading shows such columns.
bool has_decimal_reading(std::string_view line, std::size_t least_columns, std::string* reading) {
  const Cells cells = split(line, Separator::comma);
  std::vector<std::string> joined;
  for (std::size_t i = 0; i < cells.size(); ++i) {
    if (i + 1 < cells.size() && joins(cells[i], cells[i + 1])) {
      joined.push_back(std::string(cells[i]) + "." + std::string(cells[i + 1]));
      ++i;
    } else {
      joined.emplace_back(cells[i]);
    }
  }
  if (reading) *reading = listed(joined);
  return joined.size() < cells.size() && joined.size() >= least_columns;
}

/// Whether in every row all commas (step 1), or every other one (step 2), could be decimal marks,
/// and that reading leaves least_columns columns.
bool ambiguous(std::string_view text, const Lines& lines, std::size_t step,
               std::size_t least_columns) {
  const std::size_t commas = commas_in(lines.rows.front().of(text));
  return std::all_of(lines.rows.begin(), lines.rows.end(), [&](const TextLine& row) {
    const auto line = row.of(text);
    const Cells cells = split(line, Separator::comma);
    bool every_pair = commas_in(line) == commas;
    for (std::size_t i = 0; i + 1 < cells.size(); i += step)
      every_pair = every_pair && joins(cells[i], cells[i + 1]);
    return every_pair && has_decimal_reading(line, least_columns, nullptr);
  });
}

/// Whether a comment's names let it be the header.
bool can_be_header(const Cells& names, const NumberTableOptions& options) {
  return std::all_of(names.begin(), names.end(), options.is_name) &&
         (!options.is_header || options.is_header(names));
}

/// Number of names a header gives when it is cut at commas; 0 without a header.
std::size_t header_names(std::string_view text, const Lines& lines,
                         const NumberTableOptions& options) {
  if (!lines.headings.empty())
    return split(lines.headings.back().of(text), Separator::comma).size();
  if (!options.is_name) return 0;
  for (auto line = lines.comments.rbegin(); line != lines.comments.rend(); ++line) {
    const Cells names = split(line->of(text), Separator::comma);
    if (names.size() > 1 && can_be_header(names, options)) return names.size();
  }
  return 0;
}

[[noreturn]] void refuse_ambiguous(std::string_view text, const std::string& name,
                                   const Lines& lines) {
  const TextLine& row = lines.rows.front();
  const Cells cells = split(row.of(text), Separator::comma);
  std::string decimal;
  has_decimal_reading(row.of(text), 1, &decimal);
  throw InputError(
      Place{name, row.line, 1},
      "\"" + printable(row.of(text), 60) + "\" can be read as " +
          printable(listed({cells.begin(), cells.end()}), 80) + " (commas between columns) or as " +
          printable(decimal, 80) + " (decimal commas)",
      "put semicolons between the columns, or a header with the columns' names on top");
}

/// Rows in which nothing but commas can separate or be a decimal mark.
Layout commas_only(std::string_view text, const std::string& name, const Lines& lines,
                   const NumberTableOptions& options) {
  const std::size_t cells = commas_in(lines.rows.front().of(text)) + 1;
  const std::size_t names = header_names(text, lines, options);
  if (names > 0 && cells == 2 * names && ambiguous(text, lines, 2, 1))
    return {names == 1 ? Separator::blanks : Separator::every_second_comma, DecimalMark::comma};
  if (names == 0 && ambiguous(text, lines, 1, options.least_columns))
    refuse_ambiguous(text, name, lines);
  return {Separator::comma, DecimalMark::point};
}

/// Whether every row, and the header if there is one, has tabs side by side: then a run of them is
/// one separator.
bool tabs_are_padding(std::string_view text, const Lines& lines) {
  const auto has_run = [&](const TextLine& line) {
    return line.of(text).find("\t\t") != std::string_view::npos;
  };
  return std::all_of(lines.rows.begin(), lines.rows.end(), has_run) &&
         (lines.headings.empty() || has_run(lines.headings.back()));
}

bool is_unit(std::string_view cell) {
  static const std::vector<std::string> units = {"hz",        "khz",
                                                 "mhz",       "ohm",
                                                 "ohms",      "kohm",
                                                 "\xce\xa9",  "\xe2\x84\xa6",
                                                 "k\xce\xa9", "db",
                                                 "deg",       "\xc2\xb0",
                                                 "rad",       "degree",
                                                 "degrees",   "radians",
                                                 "v",         "mv",
                                                 "a",         "ma",
                                                 "s",         "ms",
                                                 "%",         "w",
                                                 "mw",        "k\xe2\x84\xa6",
                                                 "db spl"};
  std::string text = lower(trimmed(cell));
  if (text.size() > 2 && (text.front() == '(' || text.front() == '['))
    text = text.substr(1, text.size() - 2);
  return std::find(units.begin(), units.end(), text) != units.end();
}

/// Cells between blanks, with what is in brackets and bare units put behind the name before them.
Cells split_with_units(std::string_view line) {
  Cells joined;
  for (const auto cell : split(line, Separator::blanks)) {
    const bool belongs =
        !joined.empty() && (cell.front() == '(' || cell.front() == '[' || is_unit(cell));
    if (!belongs) {
      joined.push_back(cell);
      continue;
    }
    const char* begin = joined.back().data();
    joined.back() = {begin, static_cast<std::size_t>(cell.data() + cell.size() - begin)};
  }
  return joined;
}

Cells split_at_wide_gaps(std::string_view line) {
  Cells cells;
  for (std::size_t start = 0; start < line.size();) {
    const std::size_t end = std::min({line.find("  ", start), line.find('\t', start), line.size()});
    const auto cell = without_blanks(line.substr(start, end - start));
    if (!cell.empty()) cells.push_back(cell);
    start = end + 1;
  }
  return cells;
}

void drop_trailing_empty(Cells& cells, std::size_t columns) {
  while (cells.size() > columns && cells.back().empty()) cells.pop_back();
}

bool all_units(const Cells& cells) {
  return !cells.empty() && std::all_of(cells.begin(), cells.end(), is_unit);
}

std::vector<std::string> with_units(const Cells& names, const Cells& units) {
  std::vector<std::string> result;
  for (std::size_t i = 0; i < names.size(); ++i)
    result.push_back(std::string(names[i]) + " (" + std::string(units[i]) + ")");
  return result;
}

std::string quoted_list(const Cells& cells) {
  std::vector<std::string> words;
  for (const auto cell : cells) words.push_back("\"" + printable(cell, 40) + "\"");
  return printable(listed(words), 200);
}

[[noreturn]] void refuse_heading(std::string_view text, const std::string& name,
                                 const TextLine& heading, const Cells& names, std::size_t columns) {
  const auto line = heading.of(text);
  throw InputError(Place{name, heading.line, 1},
                   "\"" + printable(line, 60) + "\" gives " + std::to_string(names.size()) +
                       (names.size() == 1 ? " name" : " names") + " for " +
                       std::to_string(columns) + (columns == 1 ? " column" : " columns") +
                       " of numbers",
                   "name each column once, and begin lines that are no header with '#'");
}

void refuse_number_in_heading(const std::string& name, const TextLine& heading, const Cells& names,
                              std::string_view line) {
  const auto is_number = [](std::string_view cell) {
    return number(cell, DecimalMark::point) || number(cell, DecimalMark::comma);
  };
  if (std::none_of(names.begin(), names.end(), is_number)) return;
  const auto other = std::find_if_not(names.begin(), names.end(), is_number);
  const auto bad = other == names.end() ? names.front() : *other;
  throw InputError(Place{name, heading.line, bad.data() - line.data() + 1},
                   "\"" + printable(bad, 60) + "\" stands where a number belongs",
                   "write a number, or begin the line with '#'");
}

Header heading_header(std::string_view text, const std::string& name, const Lines& lines,
                      const Layout& layout, std::size_t columns) {
  Header header;
  std::size_t last = lines.headings.size() - 1;
  Cells names = split_names(lines.headings[last].of(text), layout.separator, columns);
  if (names.size() != columns) refuse_heading(text, name, lines.headings[last], names, columns);
  refuse_number_in_heading(name, lines.headings[last], names, lines.headings[last].of(text));
  if (all_units(names) && last > 0) {
    const Cells units = names;
    --last;
    names = split_names(lines.headings[last].of(text), layout.separator, columns);
    if (names.size() != columns) refuse_heading(text, name, lines.headings[last], names, columns);
    header.names = with_units(names, units);
  } else {
    header.names.assign(names.begin(), names.end());
  }
  header.line = lines.headings[last].line;
  if (last > 0)
    header.warnings.push_back(std::to_string(last) + (last == 1 ? " line" : " lines") +
                              " of text above the header skipped");
  return header;
}

Header comment_header(std::string_view text, const Lines& lines, const Layout& layout,
                      std::size_t columns, const NumberTableOptions& options) {
  if (!options.is_name) return {};
  for (auto line = lines.comments.rbegin(); line != lines.comments.rend(); ++line) {
    const Cells names = split_names(line->of(text), layout.separator, columns);
    if (names.size() != columns || !can_be_header(names, options)) continue;
    return {{names.begin(), names.end()},
            line->line,
            {"column names taken from the comment on line " + std::to_string(line->line) + ": " +
             quoted_list(names)}};
  }
  return {};
}

}  // namespace

Layout find_layout(std::string_view text, const std::string& name, const Lines& lines,
                   const NumberTableOptions& options) {
  const auto first = lines.rows.front().of(text);
  const unsigned marks = marks_in(first);
  const bool comma_cells = (lines.marks & comma_mark) != 0 || lines.quoted_comma;
  const auto decimal =
      comma_cells && !(lines.marks & point_mark) ? DecimalMark::comma : DecimalMark::point;
  if (marks & semicolon_mark) return {Separator::semicolon, decimal};
  const bool commas_separate = (marks & comma_mark) && every_comma_before_blank(first);
  if ((marks & tab_mark) && !commas_separate)
    return {tabs_are_padding(text, lines) ? Separator::blanks : Separator::tab, decimal};
  if (lines.quoted_comma && (lines.marks & comma_mark))
    return {Separator::comma, DecimalMark::comma};
  if (!(marks & comma_mark)) return {Separator::blanks, decimal};
  if (lines.marks & point_mark || commas_separate) return {Separator::comma, DecimalMark::point};
  if (decimal_commas_between_blanks(first)) return {Separator::blanks, DecimalMark::comma};
  return commas_only(text, name, lines, options);
}

bool names_last_column(std::string_view text, const Lines& lines, const Layout& layout) {
  if (lines.headings.empty()) return false;
  const Cells names = split(lines.headings.back().of(text), layout.separator);
  return !names.back().empty() &&
         names.size() == split(lines.rows.front().of(text), layout.separator).size();
}

Cells split_names(std::string_view line, Separator separator, std::size_t columns) {
  const Separator own = separator == Separator::every_second_comma ? Separator::comma : separator;
  Cells first = split(line, own);
  const Cells ways[] = {first,
                        split(line, Separator::tab),
                        split(line, Separator::semicolon),
                        split(line, Separator::comma),
                        split_at_wide_gaps(line),
                        split_with_units(line)};
  for (Cells cells : ways) {
    drop_trailing_empty(cells, columns);
    if (cells.size() == columns) return cells;
  }
  return first;
}

Header find_header(std::string_view text, const std::string& name, const Lines& lines,
                   const Layout& layout, std::size_t columns, const NumberTableOptions& options) {
  if (lines.headings.empty()) return comment_header(text, lines, layout, columns, options);
  return heading_header(text, name, lines, layout, columns);
}

}  // namespace ohmtilt::table
