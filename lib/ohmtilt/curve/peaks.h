#pragma once
#include <ohmtilt/curve/impedance_curve.h>

#include <vector>

namespace ohmtilt {

/// A maximum of |Z| between two lower points.
struct Peak {
  Eigen::Index index = 0;  ///< of the highest datum
  double hz = 0, ohm = 0;  ///< of the parabola through it and its neighbours, ln|Z| over ln f;
                           ///< no higher than one through evenly spaced points can be
};

/// The maxima of |Z| that stand out by more than prominence (relative) on both sides, by rising
/// frequency. The ends of the curve are none.
std::vector<Peak> magnitude_peaks(const ImpedanceCurve& curve, double prominence = 0.02);

}  // namespace ohmtilt
