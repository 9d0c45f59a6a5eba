#include <ohmtilt/hearing/third_octave.h>
#include <ohmtilt/text/text.h>
#include <array>
#include <cmath>

namespace ohmtilt {
namespace {

/// ISO 266 nominal frequencies of one decade of third-octaves, from 1000 Hz.
constexpr std::array<double, 10> nominal_decade{1000, 1250, 1600, 2000, 2500,
                                                3150, 4000, 5000, 6300, 8000};

OctaveBand band(int n, double half_width) {
  const int decade = static_cast<int>(std::floor(n / 10.0));
  const double nominal_hz =
      nominal_decade[static_cast<std::size_t>(n - 10 * decade)] * std::pow(10.0, decade);
  const double exact_hz = 1000 * std::pow(10.0, n / 10.0);
  const double edge = std::pow(10.0, half_width);
  return {nominal_hz, exact_hz, {exact_hz / edge, exact_hz * edge}};
}

std::vector<OctaveBand> bands(int first, int last, int step, double half_width) {
  std::vector<OctaveBand> result;
  for (int n = first; n <= last; n += step) result.push_back(band(n, half_width));
  return result;
}

}  // namespace

std::vector<OctaveBand> third_octaves() { return bands(-17, 13, 1, 1.0 / 20); }

std::vector<OctaveBand> octaves() { return bands(-15, 12, 3, 3.0 / 20); }

std::string short_hz(double nominal_hz) {
  return nominal_hz >= 1000 ? number_text(nominal_hz / 1000) + "k" : number_text(nominal_hz);
}

}  // namespace ohmtilt
