#include <ohmtilt/hearing/erb.h>
#include <algorithm>

namespace ohmtilt {
namespace {

/// The running integral of a function given by straight lines between points.
class Integral {
 public:
  Integral(const Array& x, const Array& y) : x_(x), y_(y), sums_(Array::Zero(x.size())) {
    for (Eigen::Index i = 1; i < x.size(); ++i)
      sums_[i] = sums_[i - 1] + (x[i] - x[i - 1]) * (y[i] + y[i - 1]) / 2;
  }
  /// From the first point to at, which lies within the points.
  double up_to(double at) const {
    const auto above = std::upper_bound(x_.begin() + 1, x_.end() - 1, at);
    const Eigen::Index i = above - x_.begin() - 1;
    const double step = at - x_[i];
    const double slope = (y_[i + 1] - y_[i]) / (x_[i + 1] - x_[i]);
    return sums_[i] + step * (y_[i] + slope * step / 2);
  }

 private:
  const Array& x_;
  const Array& y_;
  Array sums_;
};

}  // namespace

double erb_hz(double hz) { return 24.7 * (4.37 * hz / 1000 + 1); }

Array averaged_over_erb(const Array& hz, const Array& power) {
  if (hz.size() < 2) return power;
  const Integral integral(hz, power);
  Array mean(hz.size());
  for (Eigen::Index i = 0; i < hz.size(); ++i) {
    const double half = erb_hz(hz[i]) / 2;
    const double low = std::max(hz[i] - half, hz[0]);
    const double high = std::min(hz[i] + half, hz[hz.size() - 1]);
    mean[i] = (integral.up_to(high) - integral.up_to(low)) / (high - low);
  }
  return mean;
}

}  // namespace ohmtilt
