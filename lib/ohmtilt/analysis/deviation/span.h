#pragma once
#include <optional>
#include <vector>

#include <ohmtilt/analysis/deviation/deviation.h>

namespace ohmtilt {

/// The span of one earphone's deviation against any source resistance, prepared once and asked
/// often: |Z+R|^2 / |Z+Zfrom|^2 = a + R (b + R c) at each frequency, with no division in the loop.
class SpanOverResistance {
 public:
  /// load_ohm and from: one value a frequency of the grid (no anchor needed: a span has none).
  SpanOverResistance(const ComplexArray& load_ohm, const TheveninSamples& from);
  /// Largest less smallest deviation in dB for a resistive source of ohm >= 0.
  double span_db(double ohm) const;

 private:
  std::vector<double> a_, b_, c_;  // padded to whole vector registers by repeating the last value
};

struct LargestSource {
  double limit_db = 0;
  /// The smallest resistance at which the span reaches the limit; every one from the starting point
  /// up to it stays within. Nothing when no resistance up to 1e6 ohm does, or when the start is
  /// already beyond.
  std::optional<double> ohm;
  bool start_exceeds = false;  ///< nothing, because the start itself is beyond the limit
};

/// start_ohm: where to begin, the present source. The span is not always monotone: a scan brackets
/// the first crossing (maxima between scan points included) and TOMS 748 (Boost.Math) refines it.
/// Throws InputError unless limit_db > 0.
LargestSource largest_source(const SpanOverResistance& span, double start_ohm, double limit_db);

}  // namespace ohmtilt
