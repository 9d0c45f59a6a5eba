#pragma once
#include <ohmtilt/base/array.h>

namespace ohmtilt {

/// Integral of ln coth(x/2) from 0 to u >= 0: the weight of a slope within u in Bode's integral.
double bode_weight_integral(double u);

/// Bode's gain-phase integral for a magnitude that is a chain of straight lines in ln|Z| over ln f:
///   phase(u) = (1/pi) integral of slope(v) ln coth(|v - u|/2) dv,  slope = d ln|Z| / d ln f
/// [Bode1945]. Each line
/// is integrated in closed form, so a constant slope n gives n times 90 degrees to rounding.
///
/// The grid is uniform in ln f with this step. Beyond each end of the data the lines change at
/// whole numbers of steps outward.
class BodeIntegral {
 public:
  /// step > 0 in ln f; lines >= 1 within the data; outward_steps rises from 0, the common places
  /// of both continuations, the last line of which goes on for ever.
  BodeIntegral(double step, Eigen::Index lines, Eigen::ArrayXi outward_steps);

  /// Phase in radians at the lines + 1 grid points from the slopes within the data alone.
  Array inner_rad(const Array& slopes) const;
  /// What a continuation adds at the grid points. outward_slopes are d ln|Z| / d(outward ln f),
  /// one a continuation line. above: at the upper end.
  Array upper_rad(const Array& outward_slopes) const;
  Array lower_rad(const Array& outward_slopes) const;

 private:
  double step_;
  Eigen::Index lines_;
  Eigen::ArrayXi outward_steps_;
  Array primitive_;  // of ln coth(x/2), at 0, 1, 2 ... steps
};

}  // namespace ohmtilt
