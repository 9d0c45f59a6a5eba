#include <ohmtilt/measure/flat_tops.h>
#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

// A parabola within epsilon of its top for r >= 3 samples lies at most (1 + 4/r)^2 epsilon, which
// is 5.4 epsilon, below it two places outside.
constexpr double falls_off = 12;
constexpr std::ptrdiff_t shortest = 3;

/// Runs near the top of sign * samples.
long long at_one_end(const std::vector<float>& samples, float sign, double epsilon) {
  const auto n = static_cast<std::ptrdiff_t>(samples.size());
  float top = 0;
  for (const float x : samples) top = std::max(top, sign * x);
  const auto below = [&](std::ptrdiff_t i) {
    return static_cast<double>(top) - static_cast<double>(sign * samples[i]);
  };
  long long count = 0;
  for (std::ptrdiff_t i = 0; i < n;) {
    if (below(i) > epsilon) {
      ++i;
      continue;
    }
    const std::ptrdiff_t start = i;
    while (i < n && below(i) <= epsilon) ++i;
    if (i - start < shortest || start < 2 || i + 1 >= n) continue;
    if (std::min(below(start - 2), below(i + 1)) > falls_off * epsilon) ++count;
  }
  return count;
}

}  // namespace

long long flat_tops(const std::vector<float>& samples, double step, double noise) {
  const double epsilon = 1.01 * step + 3 * noise + 1e-6;
  return at_one_end(samples, 1, epsilon) + at_one_end(samples, -1, epsilon);
}

double quietest_rms(const std::vector<float>& samples, double rate_hz) {
  const auto window = static_cast<std::size_t>(rate_hz / 10);
  double quietest = -1;
  for (std::size_t start = 0; start + window <= samples.size(); start += window) {
    double energy = 0;
    for (std::size_t i = start; i < start + window; ++i)
      energy += static_cast<double>(samples[i]) * samples[i];
    if (quietest < 0 || energy < quietest) quietest = energy;
  }
  return quietest < 0 ? 0 : std::sqrt(quietest / static_cast<double>(window));
}

}  // namespace ohmtilt
