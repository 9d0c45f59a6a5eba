#include <ohmtilt/analysis/deviation/deviation_uncertainty.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/curve/interpolation.h>
#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

using Eigen::Index;

/// The index of the point below f plus f's part of the step in ln f.
double place_of(const Array& hz, double f) {
  const auto above = std::upper_bound(hz.begin(), hz.end(), f) - hz.begin();
  const Index left = std::clamp<Index>(above - 1, 0, hz.size() - 2);
  return static_cast<double>(left) + std::log(f / hz[left]) / std::log(hz[left + 1] / hz[left]);
}

/// How much alike the errors at two places are: 1 at the same one, 0 from one data step apart.
double likeness(double place, double other) { return std::max(0.0, 1 - std::abs(place - other)); }

}  // namespace

LoadUncertainty load_uncertainty(const ImpedanceCurve& curve, const DeviationGrid& grid,
                                 const ComplexArray& load_ohm) {
  const Array hz = grid.all_hz();
  const LogInterpolator relative(curve.frequency_hz(),
                                 curve.uncertainty_ohm() / curve.magnitude_ohm());
  return {relative.at(hz) * load_ohm.abs(),
          hz.unaryExpr([&](double f) { return place_of(curve.frequency_hz(), f); })};
}

Array standard_uncertainty_db(const DeviationGrid& grid, const ComplexArray& load_ohm,
                              const LoadUncertainty& uncertainty, const TheveninSamples& from,
                              const TheveninSamples& to) {
  const ComplexArray effect_db =
      ((load_ohm + from.output_ohm).inverse() - (load_ohm + to.output_ohm).inverse()) *
      (db_per_neper * uncertainty.ohm);
  const Index points = grid.grid_hz.size();
  const Index anchors = grid.anchor_hz.size();
  const ComplexArray here_db = effect_db.head(points);
  if (anchors == 0) return here_db.abs();
  const double anchor_db = mean_over_ln_f(grid.anchor_hz, effect_db.tail(anchors).abs());
  Array variance = here_db.abs2() + anchor_db * anchor_db;
  if (anchors == 1)
    for (Index i = 0; i < points; ++i)
      variance[i] -= 2 * likeness(uncertainty.place[i], uncertainty.place[points]) *
                     std::real(here_db[i] * std::conj(effect_db[points]));
  return variance.max(0).sqrt();
}

}  // namespace ohmtilt
