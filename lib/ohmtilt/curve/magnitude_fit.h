#pragma once
#include <ohmtilt/base/array.h>
#include <ohmtilt/base/partial_fractions.h>

namespace ohmtilt {

/// A squared magnitude as a rational function of the squared frequency x (any unit):
///   F(x) = constant + linear x + sum of c/(x - p) over the poles, the linear term only if asked
///   for,
/// the form that |Z|^2 of every lumped network has. No pole is a positive real number.
class MagnitudeFit {
 public:
  /// Fits poles and residues to values > 0 at x > 0 with relative weights, by relocating the
  /// poles (partial_fractions.h; here in the squared frequency). order >= 1 poles; needs
  /// more points than 2 order + 2. Values are best scaled to about 1 and x to at most 1.
  MagnitudeFit(const Array& x, const Array& values, int order, bool linear);

  /// F at x: positive near the data, not necessarily far from them.
  Array at(const Array& x) const;
  int order() const;
  /// Root mean square of the relative residual of F.
  double residual() const { return residual_; }

 private:
  Poles poles_;
  FractionForm form_;
  Eigen::VectorXd coefficients_;
  double residual_ = 0;
};

}  // namespace ohmtilt
