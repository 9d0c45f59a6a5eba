#include <ohmtilt/base/simd.h>
#include <ohmtilt/design/insertion/lowest_ratio.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace ohmtilt {
namespace {

constexpr std::size_t lanes = 32;

OHMTILT_WIDE
double lowest(const double* square, const double* twice_real, std::size_t count, const double* over,
              const double* under) {
  std::array<double, lanes> smallest;
  smallest.fill(INFINITY);
  for (std::size_t i = 0; i < count; i += lanes) {
    for (std::size_t j = 0; j < lanes; ++j) {
      const double n = square[i + j];
      const double x = twice_real[i + j];
      const double ratio =
          (over[0] * n + over[1] * x + over[2]) / (under[0] * n + under[1] * x + under[2]);
      smallest[j] = ratio < smallest[j] ? ratio : smallest[j];
    }
  }
  return *std::min_element(smallest.begin(), smallest.end());
}

}  // namespace

double lowest_ratio(const std::vector<double>& square, const std::vector<double>& twice_real,
                    const RealAffine& over, const RealAffine& under) {
  const double above[] = {over.p * over.p, over.p * over.q, over.q * over.q};
  const double below[] = {under.p * under.p, under.p * under.q, under.q * under.q};
  return lowest(square.data(), twice_real.data(), square.size(), above, below);
}

std::vector<double> padded_to_lanes(const Array& values) {
  std::vector<double> result(values.begin(), values.end());
  while (result.size() % lanes != 0) result.push_back(result.back());
  return result;
}

}  // namespace ohmtilt
