#pragma once
#include <string>
#include <string_view>
#include <vector>

#include <ohmtilt/text/number_table.h>

namespace ohmtilt::table {

/// Which characters occur, as bits.
enum Mark : unsigned {
  comma_mark = 1,
  semicolon_mark = 2,
  tab_mark = 4,
  blank_mark = 8,
  point_mark = 16,
  quote_mark = 32,
  comment_mark = 64
};

/// The lines of a table's text by what they are.
struct Lines {
  std::vector<TextLine> rows;      ///< every line from the first number on that is no comment
  std::vector<TextLine> headings;  ///< text above the rows that is no comment
  std::vector<TextLine> comments;  ///< comment lines above the rows, without their marks
  std::vector<TableNote> notes;
  unsigned marks = 0;         ///< of all rows, outside quotes
  bool quoted_comma = false;  ///< a comma within quotes, in any row
};

/// Sorts the lines. Trailing blanks and comments are cut off the rows. Throws InputError when
/// there is no row, or too many lines of a kind.
Lines sort_lines(std::string_view text, const std::string& name, const NumberTableOptions& options);

/// The marks that occur in line.
unsigned marks_in(std::string_view line);

}  // namespace ohmtilt::table
