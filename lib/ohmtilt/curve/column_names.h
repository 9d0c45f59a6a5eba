#pragma once
#include <optional>
#include <string>
#include <string_view>

namespace ohmtilt {

/// What a column of a curve's table holds.
enum class CurveColumn { frequency, magnitude, level, phase, real, imaginary, uncertainty };

struct ColumnMeaning {
  CurveColumn column = CurveColumn::frequency;
  double scale = 1;       ///< times the figure gives hertz, ohm, decibels or degrees
  std::string unit;       ///< as people write it ("kHz", "ohm", "degrees"); empty if none is given
  bool own_name = false;  ///< one of formats.md's own names, so that nothing was inferred
};

/// What the name of a column means, in the wordings in common use in several languages, with its
/// unit anywhere in it: "f/kHz", "Impedance [Ohm]", "|Z| (Ω)", "Phase (°)", "Re(Z)", "SPL (dB)".
/// Nothing if it is not understood or its unit contradicts it.
std::optional<ColumnMeaning> column_meaning(std::string_view name);

/// "frequency", "magnitude", "level", "phase", "real part", "imaginary part", "uncertainty".
std::string to_string(CurveColumn column);

/// The unit a column is taken in where none is given: "Hz", "ohm", "dB" or "degrees".
std::string default_unit(CurveColumn column);

}  // namespace ohmtilt
