#include <ohmtilt/measure/active_segment.h>
#include <algorithm>
#include <cmath>

namespace ohmtilt {

std::vector<Span> sounding_stretches(const std::vector<float>& samples, double rate_hz) {
  constexpr double parting_seconds = 0.2;
  float peak = 0;
  for (const float x : samples) peak = std::max(peak, std::abs(x));
  const auto parting = static_cast<Eigen::Index>(parting_seconds * rate_hz);
  std::vector<Span> stretches;
  for (Eigen::Index i = 0; i < static_cast<Eigen::Index>(samples.size()); ++i) {
    if (!(std::abs(samples[static_cast<std::size_t>(i)]) > 1e-3f * peak)) continue;
    if (stretches.empty() || i - stretches.back().last > parting) stretches.push_back({i, i});
    stretches.back().last = i;
  }
  return stretches;
}

Span longest(const std::vector<Span>& stretches) {
  Span result{0, -1};
  for (const Span& one : stretches)
    if (one.last - one.first > result.last - result.first) result = one;
  return result;
}

Span main_sound(const std::vector<float>& samples, double rate_hz) {
  return longest(sounding_stretches(samples, rate_hz));
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
