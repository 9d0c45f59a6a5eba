#include <ohmtilt/text/characters.h>
#include <ohmtilt/text/input_file.h>
#include <ohmtilt/text/number_table.h>
#include <ohmtilt/text/table_layout.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <limits>

namespace ohmtilt {
namespace {

using table::Cells;

std::string counted(std::size_t count, const char* word) {
  return std::to_string(count) + " " + word + (count == 1 ? "" : "s");
}

void split_row(std::string_view line, const NumberTable& table, Cells& cells) {
  table::split(line, table.separator, cells);
  if (table.closing_separator && cells.size() > 1) cells.pop_back();
}

bool all_rows_end_in_separator(const NumberTable& table, const std::vector<TextLine>& rows) {
  const char mark = table.separator == Separator::semicolon ? ';' : ',';
  return table.separator != Separator::blanks && table.separator != Separator::tab &&
         std::all_of(rows.begin(), rows.end(),
                     [&](const TextLine& row) { return row.of(table.text).back() == mark; });
}

/// "2.0D+01", as Fortran writes it.
bool is_with_exponent_d(std::string_view cell, DecimalMark mark) {
  std::string with_e(cell);
  const auto at = with_e.find_first_of("dD");
  if (at == std::string::npos || at == 0) return false;
  with_e[at] = 'E';
  return table::number(with_e, mark).has_value();
}

/// "1 000" or "1'000": digits, and blanks or apostrophes within.
bool is_grouped(std::string_view cell) {
  const auto mark = cell.find_first_of(" '");
  return mark != std::string_view::npos && mark > 0 &&
         cell.find_first_not_of("0123456789 '.,+-") == std::string_view::npos &&
         cell.back() >= '0' && cell.back() <= '9';
}

/// "#N/A", "n/a", "-": a cell whose value is not there.
bool is_not_available(std::string_view cell) {
  const std::string small = lower(cell);
  return small.starts_with("#") || small == "n/a" || small == "na" || small == "null" ||
         small == "none" || small == "-" || small == "--";
}

[[noreturn]] void refuse_cell(const NumberTable& table, std::size_t row, std::size_t column,
                              std::string_view cell) {
  const Place place = table.place(row, column);
  if (cell.empty())
    throw InputError(place, "the cell is empty", "write a number, or remove the row");
  const std::string wrong = "\"" + printable(cell, 60) + "\" stands where a number belongs";
  if (is_not_available(cell))
    throw InputError(place, wrong, "write the number, or remove the row that has none");
  const bool marks = cell.find_first_of(",.") != std::string_view::npos;
  const bool digit = cell.find_first_of("0123456789") != std::string_view::npos;
  const bool letter = lower(cell).find_first_of("abcdefghijklmnopqrstuvwxyz") != std::string::npos;
  if (is_with_exponent_d(cell, table.decimal_mark))
    throw InputError(place, wrong, "write the exponent with the letter E, as in 2.0E+01");
  if (is_grouped(cell)) throw InputError(place, wrong, "leave out the mark between thousands");
  if (digit && marks && !letter)
    throw InputError(place, wrong, "use one decimal mark in the whole file and group no thousands");
  if (digit && letter)
    throw InputError(place, wrong, "write the bare number and put its unit in the header");
  throw InputError(place, wrong, "write a number, or begin the line with '#' if it is a comment");
}

[[noreturn]] void refuse_count(const NumberTable& table, std::size_t row, std::size_t found) {
  const bool commas_only = table.separator == Separator::comma;
  throw InputError(
      Place{table.file, table.rows[row].line, 0},
      counted(found, "column") + " here, but " + std::to_string(table.column_count()) +
          " on line " + std::to_string(table.rows.front().line),
      std::string("give every row the same columns") +
          (commas_only ? "; if the comma is the decimal mark, put semicolons between columns"
                       : ""));
}

/// Which columns must be numbers: not those that a header names as the caller does not know.
std::vector<bool> wanted_columns(const NumberTable& table, std::size_t columns,
                                 const NumberTableOptions& options) {
  std::vector<bool> wanted(columns, true);
  if (!table.has_header() || !options.is_name) return wanted;
  for (std::size_t i = 0; i < columns; ++i) wanted[i] = options.is_name(table.names[i]);
  return wanted;
}

std::optional<double> cell_number(const NumberTable& table, std::string_view cell,
                                  const NumberTableOptions& options) {
  if (const auto value = table::number(cell, table.decimal_mark)) return value;
  return options.other_number ? options.other_number(cell) : std::nullopt;
}

void fill_columns(NumberTable& table, std::size_t columns, const NumberTableOptions& options) {
  table.columns.resize(columns);
  for (auto& column : table.columns) column.reserve(table.rows.size());
  const std::vector<bool> wanted = wanted_columns(table, columns, options);
  Cells cells;
  for (std::size_t row = 0; row < table.rows.size(); ++row) {
    split_row(table.rows[row].of(table.text), table, cells);
    if (cells.size() != columns) refuse_count(table, row, cells.size());
    for (std::size_t column = 0; column < columns; ++column) {
      const auto value = cell_number(table, cells[column], options);
      if (!value && wanted[column]) refuse_cell(table, row, column, cells[column]);
      table.columns[column].push_back(value.value_or(std::numeric_limits<double>::quiet_NaN()));
    }
  }
}

void check_size(const NumberTable& table, std::size_t columns, const NumberTableOptions& options) {
  const Place place{table.file, table.rows.front().line, 0};
  if (columns < options.least_columns)
    throw InputError(place,
                     "one column of numbers where at least " +
                         std::to_string(options.least_columns) + " are needed",
                     "put commas, semicolons, tabs or blanks between the columns");
  if (columns > options.most_cells / table.rows.size())
    throw InputError(place,
                     "the table has more than " + std::to_string(options.most_cells) + " cells",
                     "keep only the columns and rows that are needed");
}

const char* separator_words(Separator separator) {
  switch (separator) {
    case Separator::comma:
      return "comma-separated";
    case Separator::semicolon:
      return "semicolon-separated";
    case Separator::tab:
      return "tab-separated";
    case Separator::blanks:
      return "separated by blanks";
    case Separator::every_second_comma:
      return "separated by every second comma";
  }
  return "";
}

}  // namespace

std::vector<std::string_view> NumberTable::cells(std::size_t row) const {
  Cells result;
  split_row(rows.at(row).of(text), *this, result);
  return result;
}

Place NumberTable::place(std::size_t row, std::size_t column) const {
  const long line = rows.at(row).line;
  const Cells found = cells(row);
  if (column >= found.size()) return {file, line, 0};
  return {file, line, found[column].data() - (text.data() + text_line_start(row)) + 1};
}

std::string_view NumberTable::cell(std::size_t row, std::size_t column) const {
  const Cells found = cells(row);
  return column < found.size() ? found[column] : std::string_view{};
}

std::size_t NumberTable::text_line_start(std::size_t row) const {
  const auto newline = text.rfind('\n', rows.at(row).start);
  return newline == std::string::npos ? 0 : newline + 1;
}

std::optional<std::string> NumberTable::note(std::string_view key) const {
  const auto found =
      std::find_if(notes.begin(), notes.end(), [&](const TableNote& n) { return n.key == key; });
  if (found == notes.end()) return std::nullopt;
  return one_line(found->value);
}

std::string NumberTable::layout_text() const {
  std::string words = separator_words(separator);
  words += decimal_mark == DecimalMark::comma ? ", decimal comma" : ", decimal point";
  words += has_header() ? ", header on line " + std::to_string(header_line) : ", no header";
  return words;
}

NumberTable parse_number_table(std::string text, const std::string& name,
                               const NumberTableOptions& options) {
  NumberTable table;
  table.file = name;
  table.text = std::move(text);
  table::Lines lines = table::sort_lines(table.text, name, options);
  const table::Layout layout = table::find_layout(table.text, name, lines, options);
  table.separator = layout.separator;
  table.decimal_mark = layout.decimal_mark;
  table.closing_separator = all_rows_end_in_separator(table, lines.rows) &&
                            !table::names_last_column(table.text, lines, layout);
  Cells first;
  split_row(lines.rows.front().of(table.text), table, first);
  const std::size_t columns = first.size();
  table::Header header = table::find_header(table.text, name, lines, layout, columns, options);
  table.names = std::move(header.names);
  table.header_line = header.line;
  table.warnings = std::move(header.warnings);
  table.notes = std::move(lines.notes);
  table.rows = std::move(lines.rows);
  check_size(table, columns, options);
  fill_columns(table, columns, options);
  return table;
}

NumberTable read_number_table(const std::filesystem::path& file,
                              const NumberTableOptions& options) {
  return parse_number_table(read_text_file(file), file.string(), options);
}

}  // namespace ohmtilt
