#include <ohmtilt/measure/flat_tops.h>
#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

// A parabola within epsilon of its top for r >= 3 samples lies at most (1 + 4/r)^2 epsilon, which
// is 5.4 epsilon, below it two places outside.
constexpr double falls_off = 12;
constexpr std::ptrdiff_t shortest = 3;

// An unclipped sine holds within 2 epsilon of its top 1.4 times what it holds within epsilon (the
// arcsine law), one whose level varies more: a clipped one no more than what lies at the limit.
constexpr double piled_up = 1.2;
constexpr double pile_noise = 8;
constexpr long long least_pile = 60;

/// Samples at a limit that are too short of runs to see, as at high frequencies.
long long piled_at_one_end(const std::vector<float>& samples, float sign, double step,
                           double noise) {
  float top = 0;
  for (const float x : samples) top = std::max(top, sign * x);
  const auto epsilon = static_cast<float>(1.01 * step + pile_noise * noise + 1e-6);
  long long within = 0, beside = 0;
  double sum = 0, squares = 0, before = 0;
  for (const float x : samples) {
    const float below = top - sign * x;
    beside += below > epsilon && below <= 2 * epsilon;
    if (below <= epsilon) {
      ++within;
      sum += before;
      squares += before * before;
    }
    before = x;
  }
  if (within < least_pile || !(epsilon < top / 20)) return 0;
  // A tone of whole samples a period tops at the same places again and again.
  const auto count = static_cast<double>(within);
  const double spread = squares / count - sum * sum / count / count;
  const bool piled = static_cast<double>(beside) < (piled_up - 1) * count;
  return piled && spread > std::pow(0.05 * static_cast<double>(top), 2) ? within : 0;
}

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
  const long long runs = at_one_end(samples, 1, epsilon) + at_one_end(samples, -1, epsilon);
  return std::max(
      runs, piled_at_one_end(samples, 1, step, noise) + piled_at_one_end(samples, -1, step, noise));
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
