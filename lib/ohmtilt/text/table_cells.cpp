#include <ohmtilt/text/table_cells.h>
#include <ohmtilt/text/text.h>
#include <algorithm>

namespace ohmtilt::table {
namespace {

bool blank(char c) { return c == ' ' || c == '\t' || c == '\v' || c == '\f'; }

std::string_view without_quotes(std::string_view cell) {
  const bool quoted = cell.size() >= 2 && (cell.front() == '"' || cell.front() == '\'') &&
                      cell.front() == cell.back();
  return quoted ? without_blanks(cell.substr(1, cell.size() - 2)) : cell;
}

/// Where the cell that begins at start ends: at the separator, but not at one within quotes.
std::size_t cell_end(std::string_view line, std::size_t start, char separator) {
  std::size_t i = start;
  while (i < line.size() && blank(line[i]) && line[i] != separator) ++i;
  if (i < line.size() && line[i] == '"') {
    const auto closing = line.find('"', i + 1);
    if (closing != std::string_view::npos) i = closing;
  }
  return std::min(line.find(separator, i), line.size());
}

void split_at(std::string_view line, char separator, Cells& cells) {
  for (std::size_t start = 0; start <= line.size();) {
    const std::size_t end = cell_end(line, start, separator);
    cells.push_back(without_quotes(without_blanks(line.substr(start, end - start))));
    start = end + 1;
  }
}

void split_at_blanks(std::string_view line, Cells& cells) {
  for (std::size_t i = 0; i < line.size();) {
    if (blank(line[i])) {
      ++i;
      continue;
    }
    std::size_t end = i;
    const auto closing = line[i] == '"' ? line.find('"', i + 1) : std::string_view::npos;
    if (closing != std::string_view::npos) end = closing;
    while (end < line.size() && !blank(line[end])) ++end;
    cells.push_back(without_quotes(line.substr(i, end - i)));
    i = end;
  }
}

void split_at_second_commas(std::string_view line, Cells& cells) {
  std::size_t start = 0;
  while (start <= line.size()) {
    const auto first = line.find(',', start);
    const auto second = first == std::string_view::npos ? first : line.find(',', first + 1);
    const std::size_t end = std::min(second, line.size());
    cells.push_back(without_blanks(line.substr(start, end - start)));
    start = end + 1;
  }
}

}  // namespace

std::string_view without_blanks(std::string_view text) {
  while (!text.empty() && blank(text.front())) text.remove_prefix(1);
  while (!text.empty() && blank(text.back())) text.remove_suffix(1);
  return text;
}

void split(std::string_view line, Separator separator, Cells& cells) {
  cells.clear();
  switch (separator) {
    case Separator::comma:
      return split_at(line, ',', cells);
    case Separator::semicolon:
      return split_at(line, ';', cells);
    case Separator::tab:
      return split_at(line, '\t', cells);
    case Separator::blanks:
      return split_at_blanks(line, cells);
    case Separator::every_second_comma:
      return split_at_second_commas(line, cells);
  }
}

Cells split(std::string_view line, Separator separator) {
  Cells cells;
  split(line, separator, cells);
  return cells;
}

std::optional<double> number(std::string_view cell, DecimalMark mark) {
  const std::string_view true_minus = "\xe2\x88\x92";
  const bool has_true_minus = cell.starts_with(true_minus);
  if (mark == DecimalMark::point && !has_true_minus) return parse_number(cell);
  if (cell.size() > 400) return std::nullopt;
  std::string spelt(has_true_minus ? "-" : "");
  spelt += has_true_minus ? cell.substr(true_minus.size()) : cell;
  if (mark == DecimalMark::comma) {
    if (spelt.find('.') != std::string::npos) return std::nullopt;
    const auto comma = spelt.find(',');
    if (comma != std::string::npos) spelt[comma] = '.';
  }
  return parse_number(spelt);
}

}  // namespace ohmtilt::table
