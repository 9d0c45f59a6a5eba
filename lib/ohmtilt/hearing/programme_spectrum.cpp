#include <ohmtilt/base/decibel.h>
#include <ohmtilt/hearing/programme_spectrum.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace ohmtilt {
namespace {

// [IEC60268] table II, the third-octaves from 20 Hz to 20 kHz in dB; read in a public
// transcription.
constexpr std::array<double, 31> third_octave_db{
    -13.5, -10.2, -7.4, -5.2, -3.5, -2.3,  -1.4,  -0.9,  -0.5, -0.2, -0.1,
    0,     0,     0,    0,    0,    0,     -0.1,  -0.3,  -0.6, -1.0, -1.6,
    -2.5,  -3.7,  -5.1, -7.0, -9.4, -11.9, -14.8, -18.2, -21.6};
constexpr int first_band = -17;  // the band of 20 Hz is 1000 Hz * 10^(-17/10)

}  // namespace

double programme_level_db(double hz) {
  const double band = 10 * std::log10(hz / 1000) - first_band;
  const double last = static_cast<double>(third_octave_db.size() - 1);
  const double inside = std::clamp(band, 0.0, last);
  const auto left = static_cast<std::size_t>(std::min(std::floor(inside), last - 1));
  const double part = inside - static_cast<double>(left);
  return third_octave_db[left] + part * (third_octave_db[left + 1] - third_octave_db[left]);
}

double programme_mean(const Array& hz, const Array& power) {
  const Array weight = hz.unaryExpr([](double f) { return power_from_db(programme_level_db(f)); });
  return mean_over_ln_f(hz, weight * power) / mean_over_ln_f(hz, weight);
}

}  // namespace ohmtilt
