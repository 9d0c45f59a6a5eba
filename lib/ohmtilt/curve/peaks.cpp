#include <ohmtilt/curve/peaks.h>

#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

using Eigen::Index;

/// Lowest |Z| on the way from a point in one direction until |Z| is higher than there.
double valley(const Array& ohm, Index from, int direction) {
  double lowest = ohm[from];
  for (Index i = from + direction; i >= 0 && i < ohm.size() && ohm[i] <= ohm[from]; i += direction)
    lowest = std::min(lowest, ohm[i]);
  return lowest;
}

Peak refined_peak(const Array& hz, const Array& ohm, Index i) {
  const double x0 = std::log(hz[i - 1] / hz[i]), x2 = std::log(hz[i + 1] / hz[i]);
  const double y0 = std::log(ohm[i - 1] / ohm[i]), y2 = std::log(ohm[i + 1] / ohm[i]);
  // y = b x + a x^2 through both neighbours and (0, 0).
  const double a = (y2 / x2 - y0 / x0) / (x2 - x0), b = y0 / x0 - a * x0;
  if (!(a < 0)) return {i, hz[i], ohm[i]};
  const double x = std::clamp(-b / (2 * a), x0, x2);
  // Points at even distances put the crest at most an eighth of the larger fall above the datum.
  const double most = std::max(-y0, -y2) / 8;
  return {i, hz[i] * std::exp(x), ohm[i] * std::exp(std::clamp((b + a * x) * x, 0.0, most))};
}

}  // namespace

std::vector<Peak> magnitude_peaks(const ImpedanceCurve& curve, double prominence) {
  const Array &hz = curve.frequency_hz(), &ohm = curve.magnitude_ohm();
  std::vector<Peak> peaks;
  for (Index i = 1; i + 1 < ohm.size(); ++i) {
    if (!(ohm[i] > ohm[i - 1] && ohm[i] >= ohm[i + 1])) continue;
    const double floor = std::max(valley(ohm, i, -1), valley(ohm, i, 1));
    if (ohm[i] > floor * (1 + prominence)) peaks.push_back(refined_peak(hz, ohm, i));
  }
  return peaks;
}

}  // namespace ohmtilt
