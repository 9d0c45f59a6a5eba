#pragma once
// What is wrong with an impedance curve, one check a fault.
#include <ohmtilt/curve/impedance_curve.h>

#include <string>
#include <vector>

namespace ohmtilt {

/// kind is one of: not-passive, outlier, step, sparse, quantised, noisy, phase-sign, phase-radians,
/// kilohertz, kilohm, looks-like-response, band-missing, magnitude-only; inspect() adds not-causal.
/// Stable; what and remedy are sentences.
struct Finding {
  std::string kind;
  std::string what;
  std::vector<double> where_hz;  ///< frequencies, or a band's two ends; empty: everywhere
  std::string remedy;
};

struct FindingOptions {
  /// The file calls its magnitudes ohms; otherwise levels in dB are looked for among them.
  bool ohm_is_stated = false;
};

/// Every fault found, in the order of the list above. The limits are common practice, no source;
/// how often each is false or missed over invented earphones: tests/bench/faults.py.
std::vector<Finding> findings(const ImpedanceCurve& curve, const FindingOptions& options = {});

}  // namespace ohmtilt
