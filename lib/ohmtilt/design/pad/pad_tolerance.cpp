#include <ohmtilt/analysis/tolerance/trials.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/percentiles.h>
#include <ohmtilt/base/simd.h>
#include <ohmtilt/design/pad/pad_tolerance.h>

#include <algorithm>
#include <cstdint>
#include <limits>
#include <utility>

namespace ohmtilt {
namespace {

constexpr std::size_t block = TwoPortBlock::size;

/// Ratio of two powers, the larger over the smaller: its dB are those that they are apart.
OHMTILT_WIDE
void apart(const double* powers, const double* others, std::size_t other_step, std::size_t count,
           double* ratios) {
  for (std::size_t i = 0; i < count; ++i) {
    const double one = powers[i];
    const double other = others[i * other_step];
    ratios[i] = (one > other ? one : other) / (one > other ? other : one);
  }
}

OHMTILT_WIDE
void vary(double ohm, double part, const double* deviates, double* varied) {
  for (std::size_t i = 0; i < block; ++i) varied[i] = ohm * (1 + part * deviates[i]);
}

OHMTILT_WIDE
void vary_mean(double ohm, double part, const double* one, const double* other, double* varied) {
  for (std::size_t i = 0; i < block; ++i) varied[i] = ohm * (1 + part * ((one[i] + other[i]) / 2));
}

/// A value that nearly surely less than 95 % of them lie below, and not many less.
double below_p95(const Array& values) {
  constexpr Eigen::Index sampled = 256;
  if (values.size() < 4 * sampled) return -std::numeric_limits<double>::infinity();
  Array sample = values.head(sampled);
  const auto at = static_cast<Eigen::Index>(0.91 * sampled);
  std::nth_element(sample.begin(), sample.begin() + at, sample.end());
  return sample[at];
}

Array those_above(double limit, const Array& values) {
  Array above(values.size());
  Eigen::Index kept = 0;
  for (const double value : values) {
    above[kept] = value;
    kept += value > limit ? 1 : 0;
  }
  return above.head(kept);
}

OHMTILT_WIDE
std::int64_t count_up_to(double limit, const double* values, std::int64_t count) {
  std::int64_t found = 0;
  for (std::int64_t i = 0; i < count; ++i) found += values[i] <= limit ? 1 : 0;
  return found;
}

double least_above(double limit, const Array& values) {
  return (values > limit).select(values, std::numeric_limits<double>::infinity()).minCoeff();
}

/// The value that rank others come before, and the one behind it, by halving: no branch depends on
/// a single value, which makes it faster than selection. Values above 0, 0 <= rank < their number.
std::pair<double, double> of_rank(Eigen::Index rank, const Array& values) {
  const auto up_to = [&](double limit) { return count_up_to(limit, values.data(), values.size()); };
  double low = values.minCoeff(), high = values.maxCoeff();
  Eigen::Index up_to_low = up_to(low), up_to_high = values.size();
  if (up_to_low > rank) up_to_low = 0, low = 0;  // the least itself: 0 is below all of them
  while (up_to_high - up_to_low > 1) {
    const double middle = low + (high - low) / 2;
    if (middle <= low || middle >= high) break;
    const Eigen::Index here = up_to(middle);
    (here <= rank ? low : high) = middle;
    (here <= rank ? up_to_low : up_to_high) = here;
  }
  const double found = least_above(low, values);
  const bool last_of_equals = up_to(found) == rank + 1 && rank + 1 < values.size();
  return {found, last_of_equals ? least_above(found, values) : found};
}

/// The 95 % quantile of such ratios in dB: the logarithm rises, so those of two are enough. Most
/// lie far below and need no order. The same definition as that of order_pairs().
double p95_db(const Array& ratios) {
  const double place = 0.95 * double(ratios.size() - 1);
  const auto rank = static_cast<Eigen::Index>(place);
  const Array above = those_above(below_p95(ratios), ratios);
  const bool odd_sample = above.size() < ratios.size() - rank;
  const Array& tail = odd_sample ? ratios : above;
  const Eigen::Index rank_in_tail = rank - (ratios.size() - tail.size());
  const auto [lower, upper] = of_rank(rank_in_tail, tail);
  return OrderPair{db_from_power(lower), db_from_power(upper), place - double(rank)}.interpolated();
}

}  // namespace

ResistorDraws::ResistorDraws(const ToleranceOptions& options, std::size_t resistors) {
  const Draws draws = Draws::random(options);
  count_ = static_cast<std::size_t>(draws.count());
  deviates_.resize(resistors);
  for (std::size_t resistor = 0; resistor < resistors; ++resistor) {
    deviates_[resistor].assign(count_ / block + 1, {});
    for (std::size_t draw = 0; draw < count_; ++draw)
      deviates_[resistor][draw / block][draw % block] =
          draws.deviate(static_cast<Eigen::Index>(draw), resistor);
  }
}

void PadDraws::vary_block(const Pad& pad, std::size_t index, TwoPortBlock& result) const {
  const auto counts = resistors_per_value(pad.topology);
  const double part = pad.tolerance_percent / 100;
  std::array<TwoPortBlock::Numbers, 4> ohm;
  std::size_t resistor = 0;
  for (std::size_t arm = 0; arm < pad.ohm.size(); ++arm) {
    const double* deviates = draws_.deviates(resistor++, index).data();
    if (counts[arm] == 2)
      vary_mean(pad.ohm[arm], part, deviates, draws_.deviates(resistor++, index).data(),
                ohm[arm].data());
    else
      vary(pad.ohm[arm], part, deviates, ohm[arm].data());
  }
  two_ports(pad.topology, std::span(ohm).first(pad.ohm.size()), result);
}

PadSpread spread(const ResistorDraws& draws, const VariedAttenuation& attenuation,
                 const std::function<void(std::size_t block, TwoPortBlock& pads)>& fill) {
  Array powers(static_cast<Eigen::Index>(draws.blocks() * block));
  TwoPortBlock pads;
  for (std::size_t i = 0; i < draws.blocks(); ++i) {
    fill(i, pads);
    attenuation.powers(pads, powers.data() + i * block);
  }
  Array ratios(static_cast<Eigen::Index>(draws.count()));
  apart(powers.data(), powers.data() + draws.count(), 0, draws.count(), ratios.data());
  PadSpread result;
  result.attenuation_p95_db = p95_db(ratios);
  const std::size_t pairs = draws.count() / 2;
  ratios.resize(static_cast<Eigen::Index>(pairs));
  apart(powers.data(), powers.data() + pairs, 1, pairs, ratios.data());
  result.channel_difference_p95_db = p95_db(ratios);
  return result;
}

PadSpread PadDraws::spread(const PadSite& site, const Pad& pad) const {
  return ohmtilt::spread(
      draws_, site.varied_attenuation(pad),
      [&](std::size_t index, TwoPortBlock& pads) { vary_block(pad, index, pads); });
}

}  // namespace ohmtilt
