#pragma once
#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <ohmtilt/text/error.h>

namespace ohmtilt {

/// What stands between the cells of a row. every_second_comma: the comma is the decimal mark too,
/// and a header told how many columns there are.
enum class Separator { comma, semicolon, tab, blanks, every_second_comma };
enum class DecimalMark { point, comma };

/// Where the text of one line stands in the whole text.
struct TextLine {
  std::size_t start = 0;
  std::uint32_t length = 0;
  std::uint32_t line = 0;  ///< counted from 1
  std::string_view of(std::string_view text) const { return text.substr(start, length); }
};

/// A comment of the form "# key: value". The key is in lower case; both are trimmed.
struct TableNote {
  std::string key;
  std::string value;
  long line = 0;
};

struct NumberTableOptions {
  std::size_t least_columns = 1;
  std::size_t most_rows = 5'000'000;    ///< more are refused
  std::size_t most_cells = 20'000'000;  ///< more are refused
  /// Whether a text is the name of a column that the caller knows. It lets a comment line over the
  /// numbers be the header; without it only a line that is no comment can be one. Where a header
  /// names a column otherwise, cells that are no numbers are read as NaN.
  std::function<bool(std::string_view)> is_name;
  /// Whether known names can head a table together; if given, only such a comment is a header.
  std::function<bool(const std::vector<std::string_view>&)> is_header;
  /// Numbers spelt in the caller's own way (an IEC 60062 code); asked where a cell is no number.
  std::function<std::optional<double>(std::string_view)> other_number;
};

/// A table of numbers read from text, with all that was inferred about its layout.
struct NumberTable {
  std::string file;                          ///< as messages name it
  std::string text;                          ///< what was read; places are found in it
  std::vector<std::vector<double>> columns;  ///< equal lengths >= 1; inf and nan are let through
  std::vector<TextLine> rows;                ///< where each row stands
  std::vector<TableNote> notes;
  std::vector<std::string> names;  ///< one a column, with its unit as "name (unit)" where a line of
                                   ///< units stands below; empty without a header
  long header_line = 0;            ///< 0 without a header
  Separator separator = Separator::comma;
  DecimalMark decimal_mark = DecimalMark::point;
  bool closing_separator = false;     ///< every row ends in a separator with nothing behind it
  std::vector<std::string> warnings;  ///< skipped lines, a header taken from a comment

  std::size_t row_count() const { return rows.size(); }
  std::size_t column_count() const { return columns.size(); }
  bool has_header() const { return header_line > 0; }
  /// Line and column of a cell, counted from 1 (columns in bytes).
  Place place(std::size_t row, std::size_t column) const;
  /// A cell as it stands in the file.
  std::string_view cell(std::size_t row, std::size_t column) const;
  /// The first note with this key (lower case), or nothing.
  std::optional<std::string> note(std::string_view key) const;
  /// What was inferred, for people: "semicolon-separated, decimal comma, header on line 2".
  std::string layout_text() const;

 private:
  std::vector<std::string_view> cells(std::size_t row) const;
  std::size_t text_line_start(std::size_t row) const;
};

/// Reads a table from text that checked_text() let through: comment lines (#, ;, *, !, %, //, or
/// one quoted text), then perhaps a header, then rows of numbers between commas, semicolons, tabs
/// or blanks, with decimal point or comma. Throws InputError with line, column and remedy for text
/// where a number belongs, rows of unequal length, a header that does not fit, too many rows, and
/// where commas could be decimal marks or separators and nothing tells which.
NumberTable parse_number_table(std::string text, const std::string& name,
                               const NumberTableOptions& options = {});

/// The same from a file; see read_text_file().
NumberTable read_number_table(const std::filesystem::path& file,
                              const NumberTableOptions& options = {});

}  // namespace ohmtilt
