#pragma once
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/base/array.h>
#include <ohmtilt/base/frequency_grid.h>

namespace ohmtilt {

/// What a curve's file says of it besides the numbers. Text is as it stands in the file, trimmed.
struct CurveNotes {
  std::string title;      ///< falls back to the file's stem
  std::string condition;  ///< how it was taken ("sealed in an ear simulator"); may be empty
  std::string origin;     ///< where it comes from; may be empty
  std::string file;       ///< the path it was read from; empty for a curve made in memory
  /// One standard uncertainty of a factor that all magnitudes have in common, in percent.
  double scale_uncertainty_percent = 0;
};

/// A measured or computed impedance over frequency. An immutable value.
/// All arrays have equal length >= 2; frequencies rise strictly and are positive; magnitudes are
/// positive and finite.
class ImpedanceCurve {
 public:
  /// phase_deg is empty for a magnitude-only curve; it need not be unwrapped. uncertainty_ohm (one
  /// standard uncertainty of the complex value, per axis) is empty where none is given.
  /// Throws InputError when a rule above is broken.
  ImpedanceCurve(CurveNotes notes, Array frequency_hz, Array magnitude_ohm, Array phase_deg = {},
                 Array uncertainty_ohm = {});

  const CurveNotes& notes() const { return notes_; }
  Eigen::Index points() const { return frequency_hz_.size(); }
  Band range() const { return {frequency_hz_[0], frequency_hz_[points() - 1]}; }
  const Array& frequency_hz() const { return frequency_hz_; }
  const Array& magnitude_ohm() const { return magnitude_ohm_; }
  bool has_phase() const { return phase_deg_.size() > 0; }
  const Array& phase_deg() const { return phase_deg_; }
  bool has_uncertainty() const { return uncertainty_ohm_.size() > 0; }
  const Array& uncertainty_ohm() const { return uncertainty_ohm_; }
  /// Complex impedance in ohm at the data points; only where has_phase().
  ComplexArray impedance_ohm() const;
  /// Every step-th point and the last; step >= 1.
  ImpedanceCurve every(Eigen::Index step) const;
  /// The same curve with this phase (degrees, one a point).
  ImpedanceCurve with_phase(Array phase_deg) const;

 private:
  CurveNotes notes_;
  Array frequency_hz_, magnitude_ohm_, phase_deg_, uncertainty_ohm_;
};

/// Where an impedance of these phases (degrees, one a frequency in Hz, or none) has a negative
/// resistance, in a sentence for people; no earphone has one. Nothing if it has none.
std::optional<std::string> active_warning(const Array& frequency_hz, const Array& phase_deg);

/// A response: level in dB over frequency. Same rules; levels are finite, of any sign.
class ResponseCurve {
 public:
  ResponseCurve(CurveNotes notes, Array frequency_hz, Array level_db);
  const CurveNotes& notes() const { return notes_; }
  Eigen::Index points() const { return frequency_hz_.size(); }
  Band range() const { return {frequency_hz_[0], frequency_hz_[points() - 1]}; }
  const Array& frequency_hz() const { return frequency_hz_; }
  const Array& level_db() const { return level_db_; }

 private:
  CurveNotes notes_;
  Array frequency_hz_, level_db_;
};

}  // namespace ohmtilt
