#pragma once
#include <string_view>
#include <vector>

#include <ohmtilt/text/number_table.h>

namespace ohmtilt::table {

/// Cells of a line, without the blanks and quotes around them, as views into it.
using Cells = std::vector<std::string_view>;
/// Fills cells with those of the line (a buffer that is used again, for speed).
void split(std::string_view line, Separator separator, Cells& cells);
Cells split(std::string_view line, Separator separator);

/// text without blanks and tabs at both ends.
std::string_view without_blanks(std::string_view text);

/// The number a cell spells with this decimal mark. A true minus sign (U+2212) counts as '-'.
std::optional<double> number(std::string_view cell, DecimalMark mark);

}  // namespace ohmtilt::table
