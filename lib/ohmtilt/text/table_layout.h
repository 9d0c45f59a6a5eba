#pragma once
#include <string>
#include <string_view>
#include <vector>

#include <ohmtilt/text/table_cells.h>
#include <ohmtilt/text/table_lines.h>

namespace ohmtilt::table {

struct Layout {
  Separator separator = Separator::blanks;
  DecimalMark decimal_mark = DecimalMark::point;
};

/// How the rows are to be cut, from the marks of all rows and the form of the first. Throws
/// InputError showing both readings where every comma could be a decimal mark or a separator and
/// no header tells.
Layout find_layout(std::string_view text, const std::string& name, const Lines& lines,
                   const NumberTableOptions& options);

struct Header {
  std::vector<std::string> names;  ///< one a column; empty if there is none
  long line = 0;
  std::vector<std::string> warnings;
};

/// The names of the columns. Throws InputError when the line of text right above the rows does
/// not have as many names as there are columns.
Header find_header(std::string_view text, const std::string& name, const Lines& lines,
                   const Layout& layout, std::size_t columns, const NumberTableOptions& options);

/// Whether the header names a last column whose cells are empty in the first row ("f;Z;remark" over
/// "20;16;").
bool names_last_column(std::string_view text, const Lines& lines, const Layout& layout);

/// Names in a line of text, by the first way of cutting it that gives as many as there are
/// columns; what the layout's own separator gives if none does.
Cells split_names(std::string_view line, Separator separator, std::size_t columns);

}  // namespace ohmtilt::table
