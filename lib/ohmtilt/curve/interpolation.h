#pragma once
#include <ohmtilt/curve/impedance_curve.h>
#include <ohmtilt/curve/one_port.h>

namespace ohmtilt {

/// Values over ln f that pass through every point and never overshoot between two (monotone cubic,
/// [Fritsch1984], by Boost.Math pchip; straight lines for fewer than four points).
/// A frequency within 1e-9 (relative) of a datum gets the datum itself. No extrapolation.
class LogInterpolator {
 public:
  /// Equal lengths >= 2; hz positive and strictly rising; all finite. Throws InputError otherwise.
  LogInterpolator(Array hz, Array values);
  /// In the unit of the values, one a frequency. Throws InputError outside the data (and for NaN).
  Array at(const Array& hz) const;
  double at(double hz) const;

 private:
  double between(Eigen::Index left, double hz) const;

  Array hz_, values_, ln_f_, slopes_;  // slopes_: d value / d ln f; empty for straight lines
};

/// The curve as an impedance: ln|Z| and unwrapped phase interpolated over ln f, the datum itself
/// where a frequency is one. curve.has_phase() must hold; throws InputError otherwise.
OnePort one_port(const ImpedanceCurve& curve);

/// phase_deg without jumps of more than 180 degrees between neighbours.
Array unwrapped_deg(const Array& phase_deg);

/// The index of the value of hz (strictly rising) that equals f within 1e-9 relative; -1 if none
/// does.
Eigen::Index datum_at(const Array& hz, double f);

}  // namespace ohmtilt
