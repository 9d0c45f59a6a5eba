#pragma once
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/curve/impedance_curve.h>

namespace ohmtilt::cli {

/// The curve that a command looks at, and what is known of it.
struct CurveInput {
  ImpedanceCurve curve;
  std::string layout;  ///< how the file was understood, in words; empty for an earphone file
  std::optional<double> rated_ohm;  ///< of an earphone file
  bool ohm_is_stated = true;        ///< its magnitudes were not merely assumed to be ohms
  std::vector<std::string> warnings;
};

/// Reads a curve file, or the curve that an earphone file names. Throws InputError, also for a
/// circuit, which has none.
CurveInput read_curve_input(const std::string& file);

/// "measured", or "minimum" for a curve without phase: the words of `deviation`.
const char* phase_word(const ImpedanceCurve& curve);

/// Phase of complex values in degrees, unwrapped.
Array phase_of(const ComplexArray& values);

/// The title, condition and origin of a curve, for a caption.
std::string notes_text(const CurveNotes& notes);

}  // namespace ohmtilt::cli
