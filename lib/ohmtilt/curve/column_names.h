#pragma once
#include <cstddef>
#include <optional>
#include <string>
#include <string_view>

namespace ohmtilt {

/// What a column of a curve's table holds. A resistance is the real part beside an imaginary part;
/// alone people mean the magnitude by it.
enum class CurveColumn {
  frequency,
  magnitude,
  level,
  phase,
  real,
  imaginary,
  resistance,
  uncertainty
};
constexpr std::size_t curve_column_count = 8;

struct ColumnMeaning {
  CurveColumn column = CurveColumn::frequency;
  double scale = 1;       ///< times the figure gives hertz, ohm, decibels or degrees
  std::string unit;       ///< as people write it ("kHz", "ohm", "degrees"); empty if none is given
  bool own_name = false;  ///< one of FILES.md's own names, so that nothing was inferred
};

/// What the name of a column means, in the wordings in common use in several languages, with its
/// unit anywhere in it: "f/kHz", "Impedance [Ohm]", "|Z| (Ω)", "Phase (°)", "Re(Z)", "SPL (dB)".
/// A minus sign in front negates an imaginary part (as electrochemists write it, so that arcs point
/// up) or a phase. Nothing if the name is not understood, its unit contradicts it, a word where
/// units stand is unknown, or it names a function of the quantity (a logarithm, a reciprocal).
std::optional<ColumnMeaning> column_meaning(std::string_view name);

/// "frequency", "magnitude", "level", "phase", "real part", "imaginary part", "resistance",
/// "uncertainty".
std::string to_string(CurveColumn column);

/// The unit a column is taken in where none is given: "Hz", "ohm", "dB" or "degrees".
std::string default_unit(CurveColumn column);

}  // namespace ohmtilt
