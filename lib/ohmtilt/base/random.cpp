#include <ohmtilt/base/random.h>

#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

std::uint64_t mixed(std::uint64_t z) {
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
  return z ^ (z >> 31);
}

/// The number-th state of the generator that starts at state.
std::uint64_t step(std::uint64_t state, std::uint64_t number) {
  return mixed(state + (number + 1) * 0x9e3779b97f4a7c15u);
}

}  // namespace

double uniform_number(const RandomPlace& place) {
  const std::uint64_t stream = step(step(mixed(place.seed), place.draw), place.value);
  const std::uint64_t bits = step(stream, place.attempt) >> 11;
  // Above 1/2 the half is rounded away, and the largest bits would give 1.
  return std::min((static_cast<double>(bits) + 0.5) * 0x1p-53, 1 - 0x1p-53);
}

double cut_normal_number(const RandomPlace& place) {
  RandomPlace at = place;
  for (at.attempt = 0;; at.attempt += 2) {
    const double x = 2 * uniform_number(at) - 1;
    RandomPlace height = at;
    ++height.attempt;
    if (uniform_number(height) < std::exp(-4.5 * x * x)) return x;  // (3 x)^2 / 2
  }
}

}  // namespace ohmtilt
