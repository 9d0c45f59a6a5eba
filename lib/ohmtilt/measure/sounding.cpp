#include <ohmtilt/measure/sounding.h>
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

}  // namespace ohmtilt
