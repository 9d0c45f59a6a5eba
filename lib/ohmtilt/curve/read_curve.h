#pragma once
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include <ohmtilt/curve/impedance_curve.h>

namespace ohmtilt {

/// A value read from a file, with what the reader inferred or mended on the way, one sentence each.
template <class Value>
struct Read {
  Value value;
  std::vector<std::string> warnings;
};

/// One column that was used, in the words of a person.
struct UsedColumn {
  std::string name;      ///< as the header has it; empty without a header
  std::string quantity;  ///< "frequency", "magnitude", "level", "phase", "real part", ...
  std::string unit;      ///< "kHz", "ohm", "degrees", ...
  bool unit_assumed = false;
};

/// How a curve's file was understood.
struct CurveLayout {
  std::string format;  ///< "text table", or "Touchstone 1.1" or "Touchstone 2.0"
  std::string table;   ///< "semicolon-separated, decimal comma, header on line 2"; of a Touchstone
                       ///< file its option line ("Hz Z MA R 1")
  std::vector<UsedColumn> columns;
  bool own_format = false;  ///< nothing had to be inferred
};

/// "text table: comma-separated, decimal point, no header; frequency in Hz, magnitude in ohm".
std::string to_string(const CurveLayout& layout);

/// A value with the layout of the file that it was read from.
template <class Value>
struct CurveFile {
  Read<Value> read;
  CurveLayout layout;
};

/// Reads an impedance curve: a text table (FILES.md "Curve": any separator, decimal point or
/// comma, header wording, unit, comment style) or a Touchstone one-port (by its content or ending).
/// Throws InputError with file, line, column and remedy; never guesses silently.
Read<ImpedanceCurve> read_impedance(const std::filesystem::path& file);

/// Reads a response curve (frequency, dB). Same rules.
Read<ResponseCurve> read_response(const std::filesystem::path& file);

/// The same, with the layout that was understood.
CurveFile<ImpedanceCurve> read_impedance_file(const std::filesystem::path& file);
CurveFile<ResponseCurve> read_response_file(const std::filesystem::path& file);

/// The same from the bytes of a file; name stands in messages and gives the title's fallback.
CurveFile<ImpedanceCurve> parse_impedance(std::string bytes, const std::string& name);
CurveFile<ResponseCurve> parse_response(std::string bytes, const std::string& name);

/// The text of the project's own curve format, which the readers read back bit for bit. A note
/// is written as one_line() shows it.
std::string curve_text(const ImpedanceCurve& curve);
std::string curve_text(const ResponseCurve& curve);

}  // namespace ohmtilt
