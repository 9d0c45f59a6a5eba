#pragma once
// What is wrong with an impedance curve, one check a fault.
#include <ohmtilt/curve/impedance_curve.h>

#include <string>
#include <vector>

namespace ohmtilt {

/// kind is one of: not-passive, outlier, step, sparse, quantised, noisy, phase-sign, phase-radians,
/// kilohm, looks-like-response, band-missing, magnitude-only. Stable; what and remedy are
/// sentences.
struct Finding {
  std::string kind;
  std::string what;
  std::vector<double> where_hz;  ///< frequencies, or a band's two ends; empty: everywhere
  std::string remedy;
};

/// Every fault found, in the order of the list above. The limits are common practice, no source.
std::vector<Finding> findings(const ImpedanceCurve& curve);

}  // namespace ohmtilt
