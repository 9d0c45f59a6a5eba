#pragma once
#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include <ohmtilt/curve/read_curve.h>
#include <ohmtilt/text/number_table.h>

namespace ohmtilt {

enum class TouchstoneParameter { scattering, admittance, impedance };
enum class TouchstoneFormat { magnitude_angle, decibel_angle, real_imaginary };

/// What the option line of a file says. The defaults are those of touchstone_text(): figures that
/// are plain hertz, ohm and degrees in either version. (A lone "#" in a file means GHz S MA R 50.)
struct TouchstoneOptions {
  int version = 1;     ///< 1 or 2; in version 1 Z and Y figures are normalised to reference_ohm
  double unit_hz = 1;  ///< 1, 1e3, 1e6 or 1e9
  TouchstoneParameter parameter = TouchstoneParameter::impedance;
  TouchstoneFormat format = TouchstoneFormat::magnitude_angle;
  double reference_ohm = 1;  ///< > 0
};

/// "Hz Z MA R 1".
std::string to_string(const TouchstoneOptions& options);

/// An option line without its '#', in any case. Throws InputError at line naming the word that is
/// not understood.
TouchstoneOptions parse_touchstone_options(std::string_view words, const Place& line);

/// A one-port of one or more points as its file gives it, in ohm.
struct TouchstoneOnePort {
  std::string file;
  TouchstoneOptions options;     ///< of the file; [Reference] overrides its R
  Array frequency_hz;            ///< positive, strictly rising
  Array magnitude_ohm;           ///< positive and finite
  Array phase_deg;               ///< beyond +-90 where the one-port is active
  std::vector<TableNote> notes;  ///< comments of the form "! key: value"
  long first_line = 0;           ///< of the data
};

/// Reads a one-port file of version 1.0, 1.1 or 2.0 (S, Y, Z; RI, MA, DB). Active points
/// (Re Z < 0, |S| > 1) bring a warning. Throws InputError with line, column and remedy, also where
/// the impedance is infinite (S = 1, Y = 0) or zero.
/// Formula source: Touchstone file format 1.1 and 2.0, IBIS Open Forum.
Read<TouchstoneOnePort> read_touchstone(const std::filesystem::path& file);
Read<TouchstoneOnePort> parse_touchstone(std::string bytes, const std::string& name);

/// Whether text is one by its name (.s1p, .s2p ..., .ts) or its first line (option line,
/// [Version]).
bool is_touchstone(std::string_view text, std::string_view name);

/// parse_touchstone() of checked text as a curve of at least two points.
CurveFile<ImpedanceCurve> impedance_from_touchstone(const std::string& text,
                                                    const std::string& name);

/// The text of a one-port file; uncertainties have no place in it. With the default options it
/// reads back bit for bit. Throws InputError for a curve without phase, or a version, unit or
/// reference that the format does not have.
std::string touchstone_text(const ImpedanceCurve& curve, const TouchstoneOptions& options = {});

}  // namespace ohmtilt
