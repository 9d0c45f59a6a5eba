#pragma once
#include <vector>

#include <ohmtilt/base/frequency_grid.h>
#include <ohmtilt/base/least_squares.h>
#include <ohmtilt/design/equalizer/biquad.h>

namespace ohmtilt {

/// What the filters of a fit may be.
struct FilterLimits {
  double low_hz, high_hz;  ///< frequencies; shelves keep an octave within
  double low_db, high_db;  ///< gains
  double low_q, high_q;  ///< of peaking filters; shelves reach at most 1/sqrt(2), to stay monotone
};

/// What filters cost beside the error that they leave, so that of sets that leave the same the one
/// without filters that fight each other is found.
struct FilterPrice {
  double gain = 0;   ///< dB^2 of error for each dB^2 of a filter's gain
  double level = 0;  ///< dB^2 of error for each dB^2 of level that is lost beyond need
};

/// Finds filters that flatten a curve: the mean over ln f of the square of (curve plus filters,
/// less its own mean), and what the filters cost, become as small as can be. The level lost is the
/// mean of the filters' gain; need is the curve's mean over its minimum, which the exact inverse
/// that raises nothing takes. One curve on one grid; calls are independent.
class FilterFit {
 public:
  /// curve_db has one value a frequency of hz, which rises strictly up to at most half the sample
  /// rate.
  FilterFit(const Array& hz, const Array& curve_db, double sample_rate_hz,
            const FilterLimits& limits);

  /// Curve plus filters, less its mean over ln f.
  Array residual_db(const std::vector<Filter>& filters) const;
  /// Mean over ln f of residual_db squared, plus the price.
  double cost(const std::vector<Filter>& filters, const FilterPrice& price = {}) const;
  /// All filters improved together within the limits (base/least_squares.h), kinds kept; at most
  /// steps steps.
  std::vector<Filter> refined(std::vector<Filter> filters, int steps,
                              const FilterPrice& price = {}) const;
  /// Up to count single filters, the best first and each well apart from those before, that would
  /// take most away from what filters leave; empty where none would.
  std::vector<Filter> candidates(const std::vector<Filter>& filters, std::size_t count,
                                 const FilterPrice& price = {}) const;

 private:
  struct Shape {  ///< a trial filter, scaled to a gain of 1 dB
    Filter filter;
    Array unit_db;       ///< less its mean
    double mean_square;  ///< of unit_db
  };
  class Problem;
  void add_shapes(FilterKind kind, double octave_step, const std::vector<double>& qs);
  bool worth_trying(FilterKind kind, double hz, double q) const;
  Array less_mean(const Array& values) const;
  Array sum_db(const std::vector<Filter>& filters) const;
  double level_lost_db(const Array& sum_db) const;
  NormalEquations normal_equations(const std::vector<Filter>& filters,
                                   const FilterPrice& price) const;

  Array curve_db_, weights_;  // weights: of the mean over ln f; they add up to 1
  SampledGrid grid_;
  FilterLimits limits_;
  double needed_db_;  // mean gain of the exact inverse that raises nothing
  std::vector<Shape> shapes_;
};

}  // namespace ohmtilt
