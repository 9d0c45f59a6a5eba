#include <ohmtilt/base/decibel.h>
#include <ohmtilt/curve/impedance_curve.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

[[noreturn]] void refuse(const CurveNotes& notes, const std::string& wrong,
                         const std::string& remedy) {
  if (notes.file.empty()) throw InputError(wrong, remedy);
  throw InputError(Place{notes.file}, wrong, remedy);
}

void check_frequencies(const CurveNotes& notes, const Array& hz) {
  if (hz.size() < 2)
    refuse(notes, "a curve of " + std::to_string(hz.size()) + " points has no range",
           "give at least two frequencies");
  if (!(hz[0] > 0) || !hz.isFinite().all())
    refuse(notes, "frequencies must be positive and finite", "check the frequency column");
  for (Eigen::Index i = 1; i < hz.size(); ++i)
    if (!(hz[i] > hz[i - 1]))
      refuse(notes,
             "frequency must rise (got " + number_text(hz[i]) + " Hz after " +
                 number_text(hz[i - 1]) + " Hz)",
             "sort the rows and keep one row a frequency");
}

void check_length(const CurveNotes& notes, const Array& hz, const Array& column, const char* name) {
  if (column.size() != hz.size())
    refuse(notes,
           std::string(name) + " has " + std::to_string(column.size()) + " values for " +
               std::to_string(hz.size()) + " frequencies",
           "give one a frequency");
  if (!column.isFinite().all())
    refuse(notes, std::string(name) + " has a value that is not finite", "give numbers only");
}

}  // namespace

ImpedanceCurve::ImpedanceCurve(CurveNotes notes, Array frequency_hz, Array magnitude_ohm,
                               Array phase_deg, Array uncertainty_ohm)
    : notes_(std::move(notes)),
      frequency_hz_(std::move(frequency_hz)),
      magnitude_ohm_(std::move(magnitude_ohm)),
      phase_deg_(std::move(phase_deg)),
      uncertainty_ohm_(std::move(uncertainty_ohm)) {
  check_frequencies(notes_, frequency_hz_);
  check_length(notes_, frequency_hz_, magnitude_ohm_, "magnitude_ohm");
  if (!(magnitude_ohm_ > 0).all())
    refuse(notes_, "an impedance must have a positive magnitude",
           "check the magnitude column and its unit");
  if (has_phase()) check_length(notes_, frequency_hz_, phase_deg_, "phase_deg");
  if (!has_uncertainty()) return;
  check_length(notes_, frequency_hz_, uncertainty_ohm_, "uncertainty_ohm");
  if (!(uncertainty_ohm_ >= 0).all())
    refuse(notes_, "an uncertainty cannot be negative", "check the uncertainty column");
}

ComplexArray ImpedanceCurve::impedance_ohm() const {
  const Array phase_rad = phase_deg_ * degree;
  ComplexArray z(points());
  z.real() = magnitude_ohm_ * phase_rad.cos();
  z.imag() = magnitude_ohm_ * phase_rad.sin();
  return z;
}

ImpedanceCurve ImpedanceCurve::every(Eigen::Index step) const {
  const Eigen::Index whole = (points() - 1) / step + 1;
  const bool last_is_in = (whole - 1) * step == points() - 1;
  Eigen::ArrayX<Eigen::Index> kept(whole + (last_is_in ? 0 : 1));
  for (Eigen::Index i = 0; i < kept.size(); ++i) kept[i] = std::min(i * step, points() - 1);
  const auto of = [&](const Array& values) -> Array {
    return values.size() == 0 ? values : Array(values(kept));
  };
  return {notes_, of(frequency_hz_), of(magnitude_ohm_), of(phase_deg_), of(uncertainty_ohm_)};
}

ImpedanceCurve ImpedanceCurve::with_phase(Array phase_deg) const {
  return {notes_, frequency_hz_, magnitude_ohm_, std::move(phase_deg), uncertainty_ohm_};
}

std::optional<std::string> active_warning(const Array& frequency_hz, const Array& phase_deg) {
  // A purely reactive point keeps a rounding error of about 1e-14 of |Z| as its real part.
  const auto active = ((phase_deg * degree).cos() < -1e-12).eval();
  const Eigen::Index count = active.count();
  if (count == 0) return std::nullopt;
  Eigen::Index first = 0;
  while (!active[first]) ++first;
  std::string text = "the resistance is negative (active) at " + std::to_string(count) + " of " +
                     std::to_string(active.size()) + " points, first at " +
                     number_text(frequency_hz[first]) + " Hz";
  if (2 * count > active.size())
    text += "; the leads of one channel may be swapped, or the phase is 180 degrees off";
  return text;
}

ResponseCurve::ResponseCurve(CurveNotes notes, Array frequency_hz, Array level_db)
    : notes_(std::move(notes)),
      frequency_hz_(std::move(frequency_hz)),
      level_db_(std::move(level_db)) {
  check_frequencies(notes_, frequency_hz_);
  check_length(notes_, frequency_hz_, level_db_, "magnitude_db");
}

}  // namespace ohmtilt
