#include <ohmtilt/base/decibel.h>
#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>

#include <math.h>  // Boost 1.74 pchip wants isnan as a global name

#include <algorithm>
#include <boost/math/interpolators/pchip.hpp>
#include <cmath>
#include <memory>
#include <vector>

namespace ohmtilt {
namespace {

constexpr double same_frequency = 1e-9;  // relative: the rounding of a frequency's text

void check_points(const Array& hz, const Array& values) {
  const Eigen::Index n = hz.size();
  if (n < 2 || values.size() != n)
    throw InputError("an interpolation of " + std::to_string(n) + " frequencies and " +
                         std::to_string(values.size()) + " values is not possible",
                     "give two points or more, one value a frequency");
  const bool rising = hz[0] > 0 && (hz.tail(n - 1) > hz.head(n - 1)).all();
  if (!rising || !hz.isFinite().all() || !values.isFinite().all())
    throw InputError("the points to interpolate are not finite over rising positive frequencies",
                     "sort the rows and keep one row a frequency");
}

/// d value / d ln f at each point; Boost's end slopes are the only ones that cannot overshoot.
Array pchip_slopes(const Array& x, const Array& y) {
  const boost::math::interpolators::pchip<std::vector<double>> spline(
      std::vector<double>(x.begin(), x.end()), std::vector<double>(y.begin(), y.end()));
  return x.unaryExpr([&spline](double u) { return spline.prime(u); });
}

[[noreturn]] void refuse_outside(double hz, const Array& data) {
  throw InputError(number_text(hz) + " Hz is outside the data, which reach from " +
                       number_text(data[0]) + " to " + number_text(data[data.size() - 1]) + " Hz",
                   "ask within them");
}

}  // namespace

Eigen::Index datum_at(const Array& hz, double f) {
  const Eigen::Index right = std::lower_bound(hz.begin(), hz.end(), f) - hz.begin();
  const auto near = [&](Eigen::Index i) {
    return i >= 0 && i < hz.size() && std::abs(f - hz[i]) <= same_frequency * hz[i];
  };
  // Of two neighbours that are both near (a very dense file) the nearer one is the datum.
  if (near(right) && near(right - 1)) return hz[right] - f < f - hz[right - 1] ? right : right - 1;
  if (near(right)) return right;
  return near(right - 1) ? right - 1 : -1;
}

LogInterpolator::LogInterpolator(Array hz, Array values)
    : hz_(std::move(hz)), values_(std::move(values)) {
  check_points(hz_, values_);
  ln_f_ = hz_.log();
  // Neighbours whose logarithms round to one number leave no interval to slope over.
  const Eigen::Index n = hz_.size();
  const bool distinct = (ln_f_.tail(n - 1) > ln_f_.head(n - 1)).all();
  if (n >= 4 && distinct) slopes_ = pchip_slopes(ln_f_, values_);
}

double LogInterpolator::between(Eigen::Index left, double hz) const {
  const double width = ln_f_[left + 1] - ln_f_[left];
  const double t = (std::log(hz) - ln_f_[left]) / width;
  const double y0 = values_[left], y1 = values_[left + 1];
  if (slopes_.size() == 0) return y0 + t * (y1 - y0);
  const double s0 = slopes_[left] * width, s1 = slopes_[left + 1] * width;
  const double cubic =
      (1 - t) * (1 - t) * (y0 * (1 + 2 * t) + s0 * t) + t * t * (y1 * (3 - 2 * t) + s1 * (t - 1));
  // Monotone in exact arithmetic; rounding may leave the interval by an ulp.
  return std::clamp(cubic, std::min(y0, y1), std::max(y0, y1));
}

double LogInterpolator::at(double hz) const {
  const Eigen::Index datum = datum_at(hz_, hz);
  if (datum >= 0) return values_[datum];
  if (!(hz > hz_[0] && hz < hz_[hz_.size() - 1])) refuse_outside(hz, hz_);
  return between(std::upper_bound(hz_.begin(), hz_.end(), hz) - hz_.begin() - 1, hz);
}

Array LogInterpolator::at(const Array& hz) const {
  return hz.unaryExpr([this](double f) { return at(f); });
}

Array unwrapped_deg(const Array& phase_deg) {
  Array result = phase_deg;
  for (Eigen::Index i = 1; i < result.size(); ++i)
    result[i] = result[i - 1] + std::remainder(phase_deg[i] - phase_deg[i - 1], 360.0);
  return result;
}

OnePort one_port(const ImpedanceCurve& curve) {
  if (!curve.has_phase())
    throw InputError("the curve has no phase, so it is not a complex impedance yet",
                     "give it a phase column, or its minimum phase");
  struct Parts {
    Array hz;
    ComplexArray z;
    LogInterpolator ln_ohm, phase_rad;
  };
  // Shared: a OnePort is copied freely, and its data may be a million points.
  const auto parts = std::make_shared<const Parts>(
      Parts{curve.frequency_hz(), curve.impedance_ohm(),
            LogInterpolator(curve.frequency_hz(), curve.magnitude_ohm().log()),
            LogInterpolator(curve.frequency_hz(), unwrapped_deg(curve.phase_deg()) * degree)});
  return {curve.range(), [parts](const Array& hz) -> ComplexArray {
            return hz.unaryExpr([&parts](double f) -> Complex {
              const Eigen::Index datum = datum_at(parts->hz, f);
              if (datum >= 0) return parts->z[datum];
              return std::polar(std::exp(parts->ln_ohm.at(f)), parts->phase_rad.at(f));
            });
          }};
}

}  // namespace ohmtilt
