#pragma once
#include <string>
#include <string_view>
#include <vector>

#include <ohmtilt/text/characters.h>

namespace ohmtilt::plots {

/// bytes as a figure can draw them.
inline std::string drawable(std::string_view bytes) { return one_line(bytes); }

/// Text for XML and HTML, in an element or a quoted attribute: & < > " and ' escaped.
std::string markup_escaped(std::string_view text);

/// A gnuplot string literal that draws drawable(bytes) to the letter where text is "noenhanced".
/// It is double-quoted, and every ASCII character that could mean anything to gnuplot or a shell is
/// written as its octal number. (Single quotes would not do: gnuplot 5.4 ends a literal that starts
/// with a doubled quote.)
std::string gnuplot_literal(std::string_view bytes);

/// Width of drawable text in units of the font's size, on the wide side of what common sans-serif
/// fonts take, so that text laid out by it is not cut.
double width_em(std::string_view text);

/// Columns that text takes in a terminal.
double columns(std::string_view text);

using Width = double (*)(std::string_view text);

inline constexpr const char* ellipsis = "\u2026";

/// text, or as much of its start as fits with an ellipsis behind it, in at most limit by width.
std::string shortened(std::string_view text, double limit, Width width = width_em);

/// text in at most max_lines lines of at most limit each, broken at blanks where there are any; the
/// last line is shortened. At least one line.
std::vector<std::string> wrapped(std::string_view text, double limit, std::size_t max_lines,
                                 Width width = width_em);

}  // namespace ohmtilt::plots
