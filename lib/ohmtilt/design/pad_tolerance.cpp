#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/error.h>
#include <ohmtilt/design/pad_tolerance.h>

#include <algorithm>
#include <array>
#include <random>

namespace ohmtilt {
namespace {

/// A power ratio that is the farther from 1 the larger it is, whichever way it went.
double apart(double ratio) { return ratio < 1 ? 1 / ratio : ratio; }

/// The 95 % quantile of |dB| of such ratios: the logarithm is rising, so one of it is enough.
double p95_db(std::vector<double>& ratios) {
  const auto at = ratios.begin() + static_cast<std::ptrdiff_t>(0.95 * double(ratios.size() - 1));
  std::nth_element(ratios.begin(), at, ratios.end());
  return db_from_power(*at);
}

}  // namespace

PadDraws::PadDraws(long samples, std::uint64_t seed) {
  if (samples < 20 || samples > 1'000'000 || samples % 2 != 0)
    throw InputError(std::to_string(samples) + " samples are not a useful number of draws",
                     "give an even number from 20 to 1000000");
  std::mt19937_64 random(seed);
  deviates_.resize(static_cast<std::size_t>(samples) * most_resistors);
  // 53 random bits as a number from -1 to 1: the same on every machine.
  for (double& deviate : deviates_) deviate = static_cast<double>(random() >> 11) * 0x1p-52 - 1;
}

PadSpread PadDraws::spread(const PadSite& site, const Pad& pad) const {
  const auto counts = resistors_per_value(pad.topology);
  const double nominal = site.attenuation_power(two_port(pad));
  const double part = pad.tolerance_percent / 100;
  std::array<double, 4> ohm{};
  std::vector<double> powers(deviates_.size() / most_resistors);
  for (std::size_t draw = 0; draw < powers.size(); ++draw) {
    const double* deviate = &deviates_[draw * most_resistors];
    for (std::size_t i = 0; i < pad.ohm.size(); ++i) {
      double mean = *deviate++;
      if (counts[i] == 2) mean = (mean + *deviate++) / 2;
      ohm[i] = pad.ohm[i] * (1 + part * mean);
    }
    powers[draw] =
        site.attenuation_power(two_port(pad.topology, std::span(ohm).first(pad.ohm.size())));
  }
  std::vector<double> differences(powers.size() / 2);
  for (std::size_t i = 0; i < differences.size(); ++i)
    differences[i] = apart(powers[2 * i] / powers[2 * i + 1]);
  for (double& power : powers) power = apart(power / nominal);
  return {p95_db(powers), p95_db(differences)};
}

}  // namespace ohmtilt
