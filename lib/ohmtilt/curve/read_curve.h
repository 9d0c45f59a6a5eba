#pragma once
#include <filesystem>
#include <string>
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

/// Reads an impedance curve: a text table (formats.md "Curve": any separator, decimal point or
/// comma, header wording, unit, comment style) or a Touchstone one-port (by its content or ending).
/// Throws InputError with file, line, column and remedy; never guesses silently.
Read<ImpedanceCurve> read_impedance(const std::filesystem::path& file);

/// Reads a response curve (frequency, dB). Same rules.
Read<ResponseCurve> read_response(const std::filesystem::path& file);

/// The text of the project's own curve format, which the readers read back bit for bit.
std::string curve_text(const ImpedanceCurve& curve);
std::string curve_text(const ResponseCurve& curve);

}  // namespace ohmtilt
