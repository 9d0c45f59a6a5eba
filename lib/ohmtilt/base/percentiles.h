#pragma once
#include <vector>

#include <ohmtilt/base/array.h>

namespace ohmtilt {

/// The two neighbouring order statistics that a percentile lies between, and how far along.
struct OrderPair {
  double below = 0, above = 0;
  double part = 0;
  double interpolated() const { return below + part * (above - below); }
};

/// Of each fraction (0 to 1, rising) of the values, at place (count - 1) fraction counted from 0:
/// definition 7 of [Hyndman1996], which spreadsheets and NumPy use too. Exact, by
/// selection; values are reordered. At least one value, all finite.
std::vector<OrderPair> order_pairs(Array& values, const std::vector<double>& fractions);

/// One of them, interpolated; 0.5 is the median.
double percentile(Array values, double fraction);

/// The order of one set of values, to bring others like it nearly into their own: selection takes a
/// fraction of the time then. It changes no result.
class Ranks {
 public:
  explicit Ranks(const Array& values);
  /// The values, each at its rank in the set given first.
  Array arranged(const Array& values) const;

 private:
  std::vector<int> rank_;
};

/// Percentiles of a quantity, one a frequency: 5 %, 50 % and 95 % of all draws lie below.
struct Percentiles {
  Array p05, p50, p95;
};

/// The smallest and the largest value, one a frequency.
struct Extremes {
  Array lowest, highest;
};

}  // namespace ohmtilt
