#include <ohmtilt/base/decibel.h>
#include <ohmtilt/curve/touchstone.h>
#include <ohmtilt/text/characters.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <cmath>

namespace ohmtilt {
namespace {

void check(const ImpedanceCurve& curve, const TouchstoneOptions& options) {
  if (!curve.has_phase())
    throw InputError("a Touchstone file needs a phase, and this curve has a magnitude only",
                     "give it a phase first (minimum phase, or a fitted model)");
  if (options.version != 1 && options.version != 2)
    throw InputError("Touchstone version " + std::to_string(options.version) + " is not written",
                     "take 1 or 2");
  if (options.unit_hz != 1 && options.unit_hz != 1e3 && options.unit_hz != 1e6 &&
      options.unit_hz != 1e9)
    throw InputError(
        "a unit of " + number_text(options.unit_hz) + " Hz is not allowed in a Touchstone file",
        "take 1, 1e3, 1e6 or 1e9");
  if (!(options.reference_ohm > 0) || !std::isfinite(options.reference_ohm))
    throw InputError(
        "a reference of " + number_text(options.reference_ohm) + " ohm is not possible",
        "give a resistance above 0 ohm");
}

/// A parameter as magnitude and angle in degrees.
struct PolarParameter {
  double magnitude = 0;
  double deg = 0;
};

PolarParameter parameter_of(double ohm, double deg, const TouchstoneOptions& options) {
  const double norm = options.version == 1 ? options.reference_ohm : 1;
  if (options.parameter == TouchstoneParameter::impedance) return {ohm / norm, deg};
  if (options.parameter == TouchstoneParameter::admittance) return {norm / ohm, -deg};
  const Complex z = ohm * Complex(std::cos(deg * degree), std::sin(deg * degree));
  const Complex s = (z - options.reference_ohm) / (z + options.reference_ohm);
  return {std::abs(s), std::arg(s) / degree};
}

std::string pair_text(const PolarParameter& p, TouchstoneFormat format) {
  if (format == TouchstoneFormat::magnitude_angle)
    return number_text(p.magnitude) + " " + number_text(p.deg);
  if (format == TouchstoneFormat::decibel_angle)
    return number_text(db_from_amplitude(p.magnitude)) + " " + number_text(p.deg);
  return number_text(p.magnitude * std::cos(p.deg * degree)) + " " +
         number_text(p.magnitude * std::sin(p.deg * degree));
}

std::string notes_text(const CurveNotes& notes) {
  std::string text;
  const std::pair<const char*, const std::string*> pairs[] = {
      {"title", &notes.title}, {"condition", &notes.condition}, {"origin", &notes.origin}};
  for (const auto& [key, value] : pairs) {
    const std::string line = one_line(trimmed(*value));
    if (!line.empty()) text += "! " + std::string(key) + ": " + line + "\n";
  }
  return text;
}

std::string head_text(const ImpedanceCurve& curve, const TouchstoneOptions& options) {
  const std::string notes = notes_text(curve.notes());
  const std::string option_line = "# " + to_string(options) + "\n";
  if (options.version == 1) return notes + option_line;
  return notes + "[Version] 2.0\n" + option_line + "[Number of Ports] 1\n[Number of Frequencies] " +
         std::to_string(curve.points()) + "\n[Reference] " + number_text(options.reference_ohm) +
         "\n[Network Data]\n";
}

}  // namespace

std::string touchstone_text(const ImpedanceCurve& curve, const TouchstoneOptions& options) {
  check(curve, options);
  std::string text = head_text(curve, options);
  for (Eigen::Index i = 0; i < curve.points(); ++i) {
    const PolarParameter p = parameter_of(curve.magnitude_ohm()[i], curve.phase_deg()[i], options);
    text += number_text(curve.frequency_hz()[i] / options.unit_hz) + " " +
            pair_text(p, options.format) + "\n";
  }
  return options.version == 2 ? text + "[End]\n" : text;
}

}  // namespace ohmtilt
