#include <cmath>

#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/frequency_grid.h>
#include <ohmtilt/hearing/weighting.h>

namespace ohmtilt {
namespace {

double a_amplitude(double hz) {
  constexpr double f1 = 20.598997;
  constexpr double f2 = 107.65265;
  constexpr double f3 = 737.86223;
  constexpr double f4 = 12194.217;
  const double s = hz * hz;
  return f4 * f4 * s * s /
         ((s + f1 * f1) * std::sqrt((s + f2 * f2) * (s + f3 * f3)) * (s + f4 * f4));
}

}  // namespace

double a_weighting_db(double hz) { return db_from_amplitude(a_amplitude(hz) / a_amplitude(1000)); }

Array a_weighting_db(const Array& hz) {
  return hz.unaryExpr([](double f) { return a_weighting_db(f); });
}

double noise_volt(const Array& hz, const Array& volt_per_root_hz) {
  const double nepers = std::log(hz[hz.size() - 1] / hz[0]);
  return std::sqrt(nepers * mean_over_ln_f(hz, volt_per_root_hz.square() * hz));
}

double a_weighted_noise_volt(const Array& hz, const Array& volt_per_root_hz) {
  return noise_volt(hz, volt_per_root_hz * power_from_db(a_weighting_db(hz)).sqrt());
}

}  // namespace ohmtilt
