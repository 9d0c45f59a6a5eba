#include <ohmtilt/analysis/draws.h>
#include <ohmtilt/analysis/percentiles.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/wide_registers.h>
#include <ohmtilt/design/pad_tolerance.h>

#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

constexpr std::size_t block = TwoPortBlock::size;

/// Power ratios over nominal, the farther from 1 the larger, whichever way they went.
OHMTILT_WIDEST_REGISTERS
void apart(const double* powers, const double* nominal, std::size_t nominal_step, std::size_t count,
           double* ratios) {
  for (std::size_t i = 0; i < count; ++i) {
    const double there = powers[i] / nominal[i * nominal_step];
    const double back = nominal[i * nominal_step] / powers[i];
    ratios[i] = there > back ? there : back;
  }
}

OHMTILT_WIDEST_REGISTERS
void vary(double ohm, double part, const double* deviates, double* varied) {
  for (std::size_t i = 0; i < block; ++i) varied[i] = ohm * (1 + part * deviates[i]);
}

OHMTILT_WIDEST_REGISTERS
void vary_mean(double ohm, double part, const double* one, const double* other, double* varied) {
  for (std::size_t i = 0; i < block; ++i) varied[i] = ohm * (1 + part * ((one[i] + other[i]) / 2));
}

/// The 95 % quantile of |dB| of such ratios: the logarithm rises, so those of two are enough. Most
/// values are far below it, and a sample tells which.
double p95_db(const std::vector<double>& ratios) {
  constexpr double fraction = 0.95;
  constexpr std::size_t stride = 16, least_sampled = 2000;
  const double place = fraction * double(ratios.size() - 1);
  const auto below = static_cast<std::size_t>(place);
  std::vector<double> tail = ratios;
  if (ratios.size() >= least_sampled) {
    std::vector<double> sample;
    for (std::size_t i = 0; i < ratios.size(); i += stride) sample.push_back(ratios[i]);
    const auto at = sample.begin() + static_cast<std::ptrdiff_t>(0.91 * double(sample.size()));
    std::nth_element(sample.begin(), at, sample.end());
    std::size_t kept = 0;
    for (const double ratio : ratios) {
      tail[kept] = ratio;
      kept += ratio > *at ? 1 : 0;
    }
    if (ratios.size() - kept <= below)
      tail.resize(kept);
    else
      tail = ratios;
  }
  const std::size_t left_out = ratios.size() - tail.size();
  const auto lower = tail.begin() + static_cast<std::ptrdiff_t>(below - left_out);
  std::nth_element(tail.begin(), lower, tail.end());
  const double upper = lower + 1 < tail.end() ? *std::min_element(lower + 1, tail.end()) : *lower;
  return OrderPair{db_from_power(*lower), db_from_power(upper), place - double(below)}
      .interpolated();
}

}  // namespace

PadDraws::PadDraws(const ToleranceOptions& options) {
  const Draws draws = Draws::random(options);
  count_ = static_cast<std::size_t>(draws.count());
  for (std::size_t resistor = 0; resistor < most_resistors; ++resistor) {
    deviates_[resistor].assign(count_ / block + 1, {});
    for (std::size_t draw = 0; draw < count_; ++draw)
      deviates_[resistor][draw / block][draw % block] =
          draws.deviate(static_cast<Eigen::Index>(draw), resistor);
  }
}

std::vector<TwoPortBlock> PadDraws::varied(const Pad& pad) const {
  const auto counts = resistors_per_value(pad.topology);
  const double part = pad.tolerance_percent / 100;
  std::vector<TwoPortBlock> pads(deviates_[0].size());
  std::array<TwoPortBlock::Numbers, 4> ohm;
  for (std::size_t i = 0; i < pads.size(); ++i) {
    std::size_t resistor = 0;
    for (std::size_t arm = 0; arm < pad.ohm.size(); ++arm) {
      const double* deviates = deviates_[resistor++][i].data();
      if (counts[arm] == 2)
        vary_mean(pad.ohm[arm], part, deviates, deviates_[resistor++][i].data(), ohm[arm].data());
      else
        vary(pad.ohm[arm], part, deviates, ohm[arm].data());
    }
    two_ports(pad.topology, std::span(ohm).first(pad.ohm.size()), pads[i]);
  }
  return pads;
}

PadSpread PadDraws::spread(const PadSite& site, const Pad& pad) const {
  const std::vector<TwoPortBlock> pads = varied(pad);
  std::vector<double> powers(pads.size() * block);
  site.attenuation_powers(pads, powers.data());
  std::vector<double> ratios(count_);
  apart(powers.data(), &powers[count_], 0, count_, ratios.data());
  PadSpread result;
  result.attenuation_p95_db = p95_db(ratios);
  const std::size_t pairs = count_ / 2;
  ratios.resize(pairs);
  apart(powers.data(), &powers[pairs], 1, pairs, ratios.data());
  result.channel_difference_p95_db = p95_db(ratios);
  return result;
}

}  // namespace ohmtilt
