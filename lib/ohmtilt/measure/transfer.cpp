#include <ohmtilt/base/fourier.h>
#include <ohmtilt/measure/halves.h>
#include <ohmtilt/measure/mains.h>
#include <ohmtilt/measure/transfer.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace ohmtilt {
namespace {

using Eigen::Index;

// Hann windows: neighbours two thirds alike, next neighbours a sixth; half-overlapping blocks a
// sixth ([Harris1978]; from the window's own sums).
constexpr double bin_correlation = 1 + 2 * (4.0 / 9 + 1.0 / 36);
constexpr double block_correlation = 1 + 2 * (1.0 / 36);
constexpr double noise_line_half_width_bins = 3;

struct Blocks {
  Index length, count;
};

Blocks blocks_for(const Recording& recording) {
  const auto frames = static_cast<Index>(recording.channels[0].size());
  const Index longest = power_of_two_from(static_cast<Index>(1.5 * recording.rate_hz));
  Index length = longest;
  while (2 * frames / length - 1 < 16 && length > 1) length /= 2;
  if (static_cast<double>(length) < 0.3 * recording.rate_hz)
    throw InputError(Place{recording.file},
                     "it lasts " + number_text(std::round(100 * recording.seconds) / 100) +
                         " s, too short to average",
                     "record ten seconds or more");
  return {length, 2 * frames / length - 1};
}

/// Mean over the blocks of both powers and the cross spectrum, up to high_hz and a little; and sums
/// over the early and the late blocks.
struct MeanPowers {
  PairPower power;
  HalfSpectrum early, late;
};

MeanPowers mean_powers(const Recording& recording, const Blocks& blocks,
                       const TransferOptions& options) {
  const double high_hz = options.band.high_hz;
  const double bin_hz = recording.rate_hz / static_cast<double>(blocks.length);
  const Index bins = std::min(blocks.length / 2, static_cast<Index>(1.02 * high_hz / bin_hz) + 16);
  PairPower power{bin_hz, Array::Zero(bins), Array::Zero(bins), ComplexArray::Zero(bins)};
  HalfSpectrum early{power.first, power.cross}, late = early;
  const Array window = hann(blocks.length);
  const auto& first = recording.channels[0];
  const auto& second = recording.channels[1];
  Fourier fourier(blocks.length);
  ComplexArray block(blocks.length);
  for (Index b = 0; b < blocks.count; ++b) {
    const Index start = b * blocks.length / 2;
    for (Index i = 0; i < blocks.length; ++i)
      block[i] = window[i] * Complex(first[start + i], second[start + i]);
    const PairSpectra pair = pair_spectra(fourier.forward(block));
    HalfSpectrum& half = 2 * b < blocks.count ? early : late;
    half.first += pair.first.head(bins).abs2();
    half.cross += pair.first.head(bins).conjugate() * pair.second.head(bins);
    power.second += pair.second.head(bins).abs2();
    tell(options.progress, static_cast<double>(b) / static_cast<double>(blocks.count));
  }
  const auto count = static_cast<double>(blocks.count);
  power = {bin_hz, (early.first + late.first) / count, power.second / count,
           (early.cross + late.cross) / count};
  return {std::move(power), std::move(early), std::move(late)};
}

struct Residuals {
  double within;   ///< noise power a bin in one block
  double between;  ///< times the averages: what the bins' own values say of it
  double second;   ///< power of the second channel a bin
};

Residuals residuals(const PairPower& power, const LocalFit& fit, double averages) {
  const ComplexArray curve = fit.curve(power.cross);
  Residuals sum{0, 0, 0};
  for (Index i = 0; i < fit.bins(); ++i) {
    const Index k = fit.first_bin + i;
    if (fit.value_weights[i] == 0 || !(power.first[k] > 0)) continue;
    const double apart = std::norm(power.cross[k] / power.first[k] - curve[i]) * power.first[k];
    sum.second += power.second[k];
    sum.within +=
        std::max(0.0, power.second[k] - std::norm(power.cross[k]) / power.first[k]) + apart;
    sum.between += apart * averages;
  }
  const auto parameters = static_cast<double>(fit.powers.rows()) * bin_correlation;
  return {sum.within / fit.used_bins,
          sum.between / std::max(fit.used_bins - parameters, 0.3 * fit.used_bins),
          sum.second / fit.used_bins};
}

/// How much more the bins scatter than their coherence says, never below 1; from a window wide
/// enough to tell, and averaged over a sixth of an octave.
Array excess_scatter(const PairPower& power, const Array& hz, const std::vector<bool>& left_out,
                     double averages, const TransferOptions& options) {
  LocalFitOptions wide;
  wide.per_octave = options.per_octave / 2;
  wide.least_bins = 12;
  Array within(hz.size()), between(hz.size());
  for (Index i = 0; i < hz.size(); ++i) {
    const Residuals r = residuals(power, local_fit(power, hz[i], left_out, wide), averages);
    within[i] = r.within / std::max(r.second, std::numeric_limits<double>::min());
    between[i] = r.between / std::max(r.second, std::numeric_limits<double>::min());
  }
  const auto reach = std::max<Index>(1, std::llround(options.per_octave / 12));
  Array excess(hz.size());
  for (Index i = 0; i < hz.size(); ++i) {
    const Index from = std::max<Index>(0, i - reach);
    const Index n = std::min(hz.size() - 1, i + reach) - from + 1;
    const double noise = within.segment(from, n).sum();
    excess[i] = noise > 0 ? std::max(1.0, between.segment(from, n).sum() / noise) : 1;
  }
  return excess;
}

std::vector<bool> inverse(std::vector<bool> of) {
  of.flip();
  return of;
}

}  // namespace

double random_relative_error(double coherence, double averages) {
  return std::sqrt((1 - coherence) / (2 * averages * coherence));
}

Array transfer_grid(const TransferOptions& options) {
  if (!(options.per_octave >= 1 && options.per_octave <= 200))
    throw InputError(number_text(options.per_octave) + " points an octave are not allowed",
                     "give 1 to 200");
  const double octaves = std::log2(options.band.high_hz / options.band.low_hz);
  return log_grid(options.band, std::max<Index>(2, std::llround(octaves * options.per_octave) + 1));
}

Transfer transfer_by_averages(const Recording& recording, const TransferOptions& options) {
  const Array hz = transfer_grid(options);
  const Blocks blocks = blocks_for(recording);
  const MeanPowers powers = mean_powers(recording, blocks, options);
  const PairPower& power = powers.power;
  const double averages = static_cast<double>(blocks.count) / block_correlation;
  const Index n = hz.size();
  Transfer result{hz,       ComplexArray(n),
                  Array(n), Array(n),
                  Array(n), mains_lines(power, options.band.low_hz, noise_line_half_width_bins)};
  const auto left_out = bins_at(result.mains_hz, power, noise_line_half_width_bins);
  result.mains_hz = hum_among(result.mains_hz);
  result.halves_apart = halves_apart(powers.early, powers.late, inverse(left_out), power.bin_hz,
                                     options.band, bin_correlation);
  const Array excess = excess_scatter(power, hz, left_out, averages, options);
  LocalFitOptions narrow;
  narrow.per_octave = options.per_octave;
  for (Index i = 0; i < n; ++i) {
    const LocalFit fit = local_fit(power, hz[i], left_out, narrow);
    const Residuals r = residuals(power, fit, averages);
    const double floor = std::numeric_limits<double>::min();
    result.ratio[i] = fit.value(power.cross);
    result.coherence[i] = std::clamp(1 - r.within / std::max(r.second, floor), 0.0, 1.0);
    const double mean_power =
        (power.first.segment(fit.first_bin, fit.bins()) * (fit.value_weights != 0).cast<double>())
            .sum() /
        fit.used_bins;
    result.averages[i] = averages / (fit.variance_factor * mean_power * bin_correlation);
    const double g2 = std::max(result.coherence[i], 1e-12);
    result.uncertainty[i] = std::abs(result.ratio[i]) *
                            random_relative_error(g2, result.averages[i]) * std::sqrt(excess[i]);
    result.uncertainty[i] =
        std::hypot(result.uncertainty[i], std::abs(result.ratio[i]) * result.halves_apart);
  }
  return result;
}

}  // namespace ohmtilt
