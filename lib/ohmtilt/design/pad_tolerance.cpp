#include <ohmtilt/analysis/draws.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/design/pad_tolerance.h>

#include <algorithm>
#include <array>

namespace ohmtilt {
namespace {

/// A power ratio that is the farther from 1 the larger it is, whichever way it went.
double apart(double ratio) { return ratio < 1 ? 1 / ratio : ratio; }

/// The 95 % quantile of |dB| of such ratios: the logarithm is rising, so one of it is enough. They
/// are counted into bins first, so that only the bin that holds it needs any order.
double p95_db(const std::vector<double>& ratios) {
  constexpr std::size_t bins = 512;
  const double largest = *std::max_element(ratios.begin(), ratios.end());
  const double scale = largest > 1 ? double(bins - 1) / (largest - 1) : 0;
  const auto bin_of = [&](double ratio) { return static_cast<std::size_t>((ratio - 1) * scale); };
  std::array<std::size_t, bins> counts{};
  for (const double ratio : ratios) ++counts[bin_of(ratio)];
  auto rank = static_cast<std::size_t>(0.95 * double(ratios.size() - 1));
  std::size_t bin = 0;
  while (rank >= counts[bin]) rank -= counts[bin++];
  std::vector<double> inside;
  for (const double ratio : ratios)
    if (bin_of(ratio) == bin) inside.push_back(ratio);
  const auto at = inside.begin() + static_cast<std::ptrdiff_t>(rank);
  std::nth_element(inside.begin(), at, inside.end());
  return db_from_power(*at);
}

}  // namespace

PadDraws::PadDraws(const ToleranceOptions& options) {
  const Draws draws = Draws::random(options);
  for (Eigen::Index draw = 0; draw < draws.count(); ++draw)
    for (std::size_t resistor = 0; resistor < most_resistors; ++resistor)
      deviates_.push_back(draws.deviate(draw, resistor));
}

PadSpread PadDraws::spread(const PadSite& site, const Pad& pad) const {
  const auto counts = resistors_per_value(pad.topology);
  const double nominal = site.coarse_attenuation_power(two_port(pad));
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
        site.coarse_attenuation_power(two_port(pad.topology, std::span(ohm).first(pad.ohm.size())));
  }
  std::vector<double> differences(powers.size() / 2);
  for (std::size_t i = 0; i < differences.size(); ++i)
    differences[i] = apart(powers[2 * i] / powers[2 * i + 1]);
  for (double& power : powers) power = apart(power / nominal);
  return {p95_db(powers), p95_db(differences)};
}

}  // namespace ohmtilt
