#include <ohmtilt/curve/bode_integral.h>

#include <cmath>
#include <numbers>

namespace ohmtilt {
namespace {

using std::numbers::pi;

/// Legendre's chi function of order 2, sum of t^(2k+1)/(2k+1)^2, by its series: t <= 0.42.
double chi_series(double t) {
  double sum = 0, power = t;
  for (int k = 1; k < 44; k += 2, power *= t * t) sum += power / (k * k);
  return sum;
}

}  // namespace

// It is pi^2/4 - 2 chi(e^-u). Near u = 0 the series is slow, and Landen's relation between chi(t)
// and chi((1-t)/(1+t)) is used.
double bode_weight_integral(double u) {
  if (u == 0) return 0;
  const double t = std::exp(-u), mirrored = std::tanh(u / 2);
  if (t < mirrored) return pi * pi / 4 - 2 * chi_series(t);
  return 2 * chi_series(mirrored) + u * std::log(1 / mirrored);
}

BodeIntegral::BodeIntegral(double step, Eigen::Index lines, Eigen::ArrayXi outward_steps)
    : step_(step), lines_(lines), outward_steps_(std::move(outward_steps)) {
  const Eigen::Index longest = lines_ + outward_steps_[outward_steps_.size() - 1];
  primitive_ = Array::LinSpaced(longest + 1, 0, static_cast<double>(longest) * step_)
                   .unaryExpr(&bode_weight_integral);
}

Array BodeIntegral::inner_rad(const Array& slopes) const {
  // The weight of a line depends on its distance only; those below a point mirror those above.
  Eigen::VectorXd weights(2 * lines_);
  for (Eigen::Index m = 0; m < lines_; ++m)
    weights[lines_ + m] = weights[lines_ - 1 - m] = (primitive_[m + 1] - primitive_[m]) / pi;
  Array phase(lines_ + 1);
  for (Eigen::Index i = 0; i <= lines_; ++i)
    phase[i] = weights.segment(lines_ - i, lines_).dot(slopes.matrix());
  return phase;
}

Array BodeIntegral::lower_rad(const Array& outward_slopes) const {
  const Eigen::Index count = outward_slopes.size();
  Array phase(lines_ + 1);
  for (Eigen::Index i = 0; i <= lines_; ++i) {
    double sum = 0, begin = primitive_[i + outward_steps_[0]];
    for (Eigen::Index k = 0; k + 1 < count; ++k) {
      const double end = primitive_[i + outward_steps_[k + 1]];
      sum += outward_slopes[k] * (end - begin);
      begin = end;
    }
    sum += outward_slopes[count - 1] * (pi * pi / 4 - begin);
    phase[i] = -sum / pi;
  }
  return phase;
}

Array BodeIntegral::upper_rad(const Array& outward_slopes) const {
  return -lower_rad(outward_slopes).reverse();
}

}  // namespace ohmtilt
