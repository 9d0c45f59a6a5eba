#include <ohmtilt/measure/third_octave_smoothing.h>
#include <algorithm>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>

namespace ohmtilt {

Array pooled(const Array& values, double per_octave) {
  using Eigen::Index;
  const auto reach = std::max<Index>(1, std::llround(per_octave / 6));
  Array result(values.size());
  for (Index i = 0; i < values.size(); ++i) {
    const Index from = std::max<Index>(0, i - reach);
    result[i] = values.segment(from, std::min(values.size() - 1, i + reach) - from + 1).mean();
  }
  return result;
}

double few_samples_factor(double degrees_of_freedom) {
  // In double throughout: valgrind, for one, has no wider type and ends where Boost prepares its
  // constants in one.
  using Policy = boost::math::policies::policy<boost::math::policies::promote_double<false>>;
  const boost::math::students_t_distribution<double, Policy> t(degrees_of_freedom);
  return boost::math::quantile(t, 0.97725) / 2;
}

}  // namespace ohmtilt
