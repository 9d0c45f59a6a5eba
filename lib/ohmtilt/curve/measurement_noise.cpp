#include <ohmtilt/curve/measurement_noise.h>

#include <algorithm>
#include <cmath>
#include <vector>

namespace ohmtilt {

Array neighbour_residual(const Array& ln_f, const Array& values) {
  const Eigen::Index count = values.size();
  Array result = Array::Zero(count);
  for (Eigen::Index i = 2; i + 2 < count; ++i) {
    double predicted = 0, squares = 1;
    for (const Eigen::Index a : {i - 2, i - 1, i + 1, i + 2}) {
      double weight = 1;  // Lagrange's, at the middle point
      for (const Eigen::Index b : {i - 2, i - 1, i + 1, i + 2})
        if (b != a) weight *= (ln_f[i] - ln_f[b]) / (ln_f[a] - ln_f[b]);
      predicted += weight * values[a];
      squares += weight * weight;
    }
    result[i] = (values[i] - predicted) / std::sqrt(squares);
  }
  return result;
}

double robust_deviation(const Array& residual) {
  if (residual.size() < 5) return 0;
  const Array inner = residual.segment(2, residual.size() - 4).abs();
  std::vector<double> sizes(inner.begin(), inner.end());
  const auto middle = sizes.begin() + static_cast<std::ptrdiff_t>(sizes.size() / 2);
  std::nth_element(sizes.begin(), middle, sizes.end());
  return *middle / 0.674489750196082;  // the normal distribution's upper quartile
}

double noise_percent(const ImpedanceCurve& curve) {
  const Array ln_f = curve.frequency_hz().log();
  return 100 * robust_deviation(neighbour_residual(ln_f, curve.magnitude_ohm().log()));
}

}  // namespace ohmtilt
