#pragma once
// How numbers are said to people: the same in every command and figure.
#include <string>
#include <utility>
#include <vector>

#include <ohmtilt/analysis/deviation/comparison.h>
#include <ohmtilt/text/quantities.h>

namespace ohmtilt::cli {

std::string db_text(double db);    ///< "1.93 dB"
std::string signed_db(double db);  ///< "+1.93 dB"; never "-0.00 dB"
double tenths(double db);          ///< rounded to them; never -0
std::string ohm_text(double ohm);  ///< "0.3 ohm", "15.8 ohm", three significant digits
/// "6.100 +- 0.070", with the sign for both: the half width with two digits, the value with as many
/// decimals.
std::string with_uncertainty(double value, double half_width);
/// The highest output impedance that keeps a limit, from from_ohm on, rounded down to two
/// significant digits (more where the two lie closer): what is printed keeps the limit.
std::string highest_ohm_text(double ohm, double from_ohm = 0);
/// A value beyond its limit, with so many decimals, or more where it takes more to show that it is.
std::string beyond_text(double value, double limit, int decimals);
/// "span of 2.05 dB exceeds the limit of 1 dB", with as many digits as show that it does.
std::string exceeds_text(const std::string& what, double db, double limit_db);
std::string percent_text(double percent);  ///< "0.016 %", "160 %", two or three significant digits
/// "±0.23 dB"; "less than ±0.01 dB" below that.
std::string plus_minus_db(double db);
/// The cells of a table, row by row.
using Rows = std::vector<std::vector<std::string>>;
/// Rows of cells in columns: the first flush left, the rest flush right, two blanks between. Widths
/// are those of a terminal, where a character may take none, one or two places.
std::string aligned(const Rows& rows);
/// A name from a file, fit to print, cut with an ellipsis to that many places of a terminal.
std::string short_name(const std::string& name, double columns);
/// The same of names that stand side by side: those that differ still do (plots/names.h).
std::vector<std::string> short_names(const std::vector<std::string>& names, double columns);
/// The same with a remark behind it that is kept: "A long na..." and " [file.csv]".
std::string short_name(const std::string& name, const std::string& remark, double columns);

/// A step of how much a span matters: spans below that many decibels are called so. The last one
/// has no end. Common practice, no source.
struct SpanStep {
  double below_db;
  const char* short_name;  ///< for a scale
  const char* weight;      ///< for a sentence
};
const std::vector<SpanStep>& span_steps();
const SpanStep& span_step(double span_db);

/// Of --sensitivity, how many changes a figure has room for.
inline constexpr std::size_t drawn_changes = 5;

/// Two names as a figure's title has room for them with a short sentence around them.
std::pair<std::string, std::string> title_names(const std::string& first,
                                                const std::string& second);
/// "An earphone behind a chain", both names cut where a figure's subtitle has no room for them.
std::string subtitle(const std::string& chain, const std::string& earphone);
/// "6 ohm instead of 0.3 ohm: +1.9 dB at 3.1 kHz": the largest change, for a figure's title. Long
/// names are cut, the number never.
std::string headline(const std::string& from_label, const std::vector<ComparedSource>& cases);
/// One sentence of conclusion on a case: how much, and whether it matters.
std::string conclusion(const ComparedSource& compared);
inline constexpr double least_said_db = 0.005;  ///< a smaller change is said to be none
/// Of an extreme: {"+1.93 dB", "at 3.1 kHz"}, or "none" where it is no change.
std::vector<std::string> extreme_cells(const Extreme& extreme);
/// "measured phase", "minimum phase", "phase from the circuit".
std::string phase_text(PhaseOrigin phase);
/// "the earphone", "both earphones", "all 6 earphones".
std::string all_earphones(std::size_t count);
/// "normalised at 1 kHz", "normalised on average from 300 Hz to 3 kHz", or "not normalised".
std::string anchor_text(const Anchor& anchor);
/// "at 1 kHz", "on average from 300 Hz to 3 kHz", or nothing.
std::string anchor_place(const Anchor& anchor);
/// On what the words for a span stand.
std::string verdict_note();

}  // namespace ohmtilt::cli
