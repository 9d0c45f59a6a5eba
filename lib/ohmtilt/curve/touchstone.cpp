#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/physical.h>
#include <ohmtilt/curve/touchstone.h>
#include <ohmtilt/curve/touchstone_lines.h>
#include <ohmtilt/text/characters.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/input_file.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

/// An impedance as the curve keeps it.
struct Polar {
  double magnitude_ohm = 0;
  double phase_deg = 0;
};

Polar polar(Complex z) { return {std::abs(z), std::atan2(z.imag(), z.real()) / degree}; }

/// The pair of figures of a line as a magnitude and an angle in degrees.
Polar magnitude_and_angle(double first, double second, TouchstoneFormat format) {
  if (format == TouchstoneFormat::real_imaginary) return polar({first, second});
  if (format == TouchstoneFormat::decibel_angle) return {amplitude_from_db(first), second};
  return {first, second};
}

/// The impedance a pair of figures stands for; not finite where it is infinite.
/// Version 1: Z and Y figures are normalised, z = Z/R and y = Y R; S = (Z - R)/(Z + R).
Polar impedance_of(double first, double second, const TouchstoneOptions& options) {
  const double norm = options.version == 1 ? options.reference_ohm : 1;
  if (options.parameter == TouchstoneParameter::scattering) {
    const Complex s = touchstone_complex(first, second, options.format);
    return polar(options.reference_ohm * (1.0 + s) / (1.0 - s));
  }
  const Polar p = magnitude_and_angle(first, second, options.format);
  if (options.parameter == TouchstoneParameter::impedance)
    return {p.magnitude_ohm * norm, p.phase_deg};
  return {norm / p.magnitude_ohm, -p.phase_deg};
}

class OnePortReader : public TouchstoneLines {
 public:
  OnePortReader(std::string_view text, const std::string& name) : TouchstoneLines(text, name, 1) {}

  Read<TouchstoneOnePort> read() {
    read_lines();
    TouchstoneOnePort port;
    port.file = file();
    port.options = stated_options();
    port.frequency_hz = as_array(hz());
    port.magnitude_ohm = as_array(ohm_);
    port.phase_deg = as_array(deg_);
    port.notes = notes();
    port.first_line = first_line();
    if (auto active = active_warning(port.frequency_hz, port.phase_deg))
      warnings().push_back(std::move(*active));
    return {std::move(port), std::move(warnings())};
  }

 private:
  TouchstoneOptions stated_options() const {
    TouchstoneOptions stated = options();
    stated.reference_ohm = reference_ohm(0);
    return stated;
  }

  static Array as_array(const std::vector<double>& values) {
    return Eigen::Map<const Array>(values.data(), static_cast<Eigen::Index>(values.size()));
  }

  void add_point(double, const std::vector<double>& figures) override {
    const Polar z = impedance_of(figures[0], figures[1], stated_options());
    if (!std::isfinite(z.magnitude_ohm) || !std::isfinite(z.phase_deg))
      throw InputError(here_at_figure(0),
                       "the impedance is infinite here (S = 1, Y = 0 or out of range)",
                       "remove the line; an open circuit is no earphone");
    if (!(z.magnitude_ohm > 0))
      throw InputError(here_at_figure(0), "the impedance is zero here",
                       "remove the line; a short circuit is no earphone");
    if (!magnitude_is_physical(z.magnitude_ohm))
      throw InputError(here_at_figure(0),
                       "the impedance is " + number_text(z.magnitude_ohm) +
                           " ohm here, beyond anything physical",
                       "check the option line and the unit");
    ohm_.push_back(z.magnitude_ohm);
    deg_.push_back(z.phase_deg);
  }

  std::vector<double> ohm_, deg_;
};

std::string note(const TouchstoneOnePort& port, std::string_view key) {
  for (const auto& found : port.notes)
    if (found.key == key) return one_line(found.value);
  return "";
}

CurveNotes notes_of(const TouchstoneOnePort& port) {
  CurveNotes notes{note(port, "title"), note(port, "condition"), note(port, "origin"), port.file};
  if (notes.title.empty()) notes.title = one_line(std::filesystem::path(port.file).stem().string());
  return notes;
}

CurveLayout layout_of(const TouchstoneOnePort& port) {
  const bool version_2 = port.options.version == 2;
  const char* units[] = {"ohm", "degrees"};
  const std::string kind =
      port.options.parameter == TouchstoneParameter::impedance ? "" : ", converted";
  return {version_2 ? "Touchstone 2.0" : "Touchstone 1.1",
          to_string(port.options),
          {{"", "frequency", to_string(port.options).substr(0, to_string(port.options).find(' ')),
            false},
           {"", "magnitude", units[0] + kind, false},
           {"", "phase", units[1], false}},
          false};
}

}  // namespace

Read<TouchstoneOnePort> read_touchstone(const std::filesystem::path& file) {
  return OnePortReader(read_text_file(file), file.string()).read();
}

Read<TouchstoneOnePort> parse_touchstone(std::string bytes, const std::string& name) {
  const std::string text = checked_text(std::move(bytes), name);
  return OnePortReader(text, name).read();
}

CurveFile<ImpedanceCurve> impedance_from_touchstone(const std::string& text,
                                                    const std::string& name) {
  auto [port, warnings] = OnePortReader(text, name).read();
  if (port.frequency_hz.size() < 2)
    throw InputError(Place{name, port.first_line, 0}, "a curve of one point has no range",
                     "give at least two frequencies");
  CurveLayout layout = layout_of(port);
  return {{ImpedanceCurve(notes_of(port), std::move(port.frequency_hz),
                          std::move(port.magnitude_ohm), std::move(port.phase_deg)),
           std::move(warnings)},
          std::move(layout)};
}

}  // namespace ohmtilt
