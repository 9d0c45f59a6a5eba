#include <ohmtilt/measure/halves.h>
#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

using Eigen::Index;

constexpr double standard_errors = 4, least_apart = 0.005;
constexpr int least_bins = 8, least_bands = 3;

/// Mean relative difference over some bins, and its standard error.
struct MeanDifference {
  Complex mean = 0;
  double error = 0;
  bool stands_out() const {
    return std::abs(mean) > standard_errors * error && std::abs(mean) > least_apart;
  }
};

MeanDifference mean_difference(const std::vector<Complex>& apart, double correlation) {
  MeanDifference result;
  const auto n = static_cast<double>(apart.size());
  for (const Complex d : apart) result.mean += d / n;
  double squares = 0;
  for (const Complex d : apart) squares += std::norm(d - result.mean);
  result.error = std::sqrt(squares / (n - 1) / n * correlation);
  return result;
}

}  // namespace

double halves_apart(const HalfSpectrum& one, const HalfSpectrum& other,
                    const std::vector<bool>& used, double bin_hz, const Band& band,
                    double correlation) {
  const double third = std::cbrt(2.0);
  double squares = 0;
  int bands = 0, apart_bands = 0;
  for (double low_hz = band.low_hz; low_hz * third < 1.001 * band.high_hz; low_hz *= third) {
    std::vector<Complex> apart;
    const auto last =
        std::min(one.first.size() - 1, static_cast<Index>(std::floor(low_hz * third / bin_hz)));
    for (auto k = static_cast<Index>(std::ceil(low_hz / bin_hz)); k <= last; ++k) {
      if (!used[static_cast<std::size_t>(k)] || !(one.first[k] > 0 && other.first[k] > 0)) continue;
      const Complex early = one.cross[k] / one.first[k], late = other.cross[k] / other.first[k];
      if (std::abs(early + late) > 0) apart.push_back((late - early) * 2.0 / (late + early));
    }
    if (apart.size() < least_bins) continue;
    ++bands;
    const MeanDifference found = mean_difference(apart, correlation);
    if (!found.stands_out()) continue;
    ++apart_bands;
    squares += std::norm(found.mean);
  }
  return bands >= least_bands && 3 * apart_bands >= bands ? std::sqrt(squares / apart_bands) : 0;
}

}  // namespace ohmtilt
