#include <ohmtilt/measure/active_segment.h>
#include <algorithm>
#include <cmath>

namespace ohmtilt {

Span sounding(const std::vector<float>& samples) {
  float peak = 0;
  for (const float x : samples) peak = std::max(peak, std::abs(x));
  const auto loud = [peak](float x) { return std::abs(x) > 1e-3f * peak; };
  const auto first = std::find_if(samples.begin(), samples.end(), loud);
  const auto last = std::find_if(samples.rbegin(), samples.rend(), loud);
  return {first - samples.begin(), samples.rend() - last - 1};
}

double rms_over_peak(const std::vector<float>& samples, const Span& span) {
  double energy = 0;
  float peak = 0;
  for (Eigen::Index i = span.first; i <= span.last; ++i) {
    energy += static_cast<double>(samples[i]) * samples[i];
    peak = std::max(peak, std::abs(samples[i]));
  }
  if (!(peak > 0)) return 0;
  return std::sqrt(energy / static_cast<double>(span.last - span.first + 1)) / peak;
}

}  // namespace ohmtilt
