#pragma once
// What a curve's neighbouring points say of its noise.
#include <ohmtilt/curve/impedance_curve.h>

namespace ohmtilt {

/// Each value less what its two neighbours on either side predict (the cubic through them over
/// ln_f), scaled so that independent noise of standard deviation s gives s. Zero at the two points
/// next to each end. ln_f rises strictly; fewer than 5 points: all zero.
Array neighbour_residual(const Array& ln_f, const Array& values);

/// Standard deviation from the median of |residual| over the points that have one (normal noise);
/// a few outliers do not move it. 0 for fewer than 5 points.
double robust_deviation(const Array& residual);

/// One standard deviation of the modulus relative to itself, in percent. A curve that turns quickly
/// between its points adds to it.
double noise_percent(const ImpedanceCurve& curve);

}  // namespace ohmtilt
