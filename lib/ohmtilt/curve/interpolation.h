#pragma once
#include <ohmtilt/curve/impedance_curve.h>
#include <ohmtilt/curve/one_port.h>

namespace ohmtilt {

/// Values over ln f that pass through every point and never overshoot between two (monotone cubic,
/// Fritsch and Carlson 1980, by Boost.Math pchip; straight lines for fewer than four points).
/// A frequency within 1e-9 (relative) of a datum gets the datum itself. No extrapolation.
class LogInterpolator {
 public:
  LogInterpolator(Array hz, Array values);
  /// Throws InputError outside the data.
  Array at(const Array& hz) const;
  double at(double hz) const;

 private:
  Array hz_, values_, ln_f_, slopes_;
};

/// The curve as an impedance: ln|Z| and unwrapped phase interpolated over ln f, the datum itself
/// where a frequency is one. curve.has_phase() must hold.
OnePort one_port(const ImpedanceCurve& curve);

/// phase_deg without jumps of more than 180 degrees between neighbours.
Array unwrapped_deg(const Array& phase_deg);

}  // namespace ohmtilt
