#include <fmt/format.h>
#include <ohmtilt/base/constants.h>
#include <ohmtilt/curve/measurement_noise.h>
#include <ohmtilt/curve/peaks.h>
#include <ohmtilt/model/driver_parameters.h>
#include <ohmtilt/text/quantities.h>

#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

using Eigen::Index;
constexpr double largest_driver_q = 50;   ///< beyond it a block only mends the fit elsewhere
constexpr double largest_coil = 0.09;     ///< of the resistance, at the resonance
constexpr double followed_percent = 0.5;  ///< rms error up to which a fit's values mean something
constexpr std::size_t most_branches = 2;  ///< in parallel; with more a fit is not the only one
constexpr double least_motion = 0.1;  ///< resistance of the resonance, of the resistance in series
constexpr double at_peak = 0.25;  ///< in ln f, of a resonance from the peak of |Z| that it makes
constexpr double recipe_tolerance = 0.1;  ///< of sqrt(f1 f2) and of f2 - f1

/// Everything that follows from Re, Zmax, fs and Qms.
DriverParameters completed(double dc_ohm, double peak_ohm, double hz, double q_mechanical) {
  DriverParameters p;
  p.dc_ohm = dc_ohm;
  p.peak_ohm = peak_ohm;
  p.resonance_hz = hz;
  p.q_mechanical = q_mechanical;
  p.motional_ohm = peak_ohm - dc_ohm;
  p.q_electrical = q_mechanical * dc_ohm / p.motional_ohm;  // Qms / (r0 - 1)
  p.q_total = q_mechanical * dc_ohm / peak_ohm;             // Qms / r0
  p.motional_farad = p.q_electrical / (two_pi * hz * dc_ohm);
  p.motional_henry = dc_ohm / (two_pi * hz * p.q_electrical);
  return p;
}

/// Where |Z| first falls to level, going from a point of the curve in one direction; ln-ln between.
std::optional<double> crossing(const ImpedanceCurve& curve, Index from, int direction,
                               double level) {
  const Array &hz = curve.frequency_hz(), &ohm = curve.magnitude_ohm();
  for (Index i = from + direction; i >= 0 && i < curve.points(); i += direction) {
    if (ohm[i] > level) continue;
    const Index before = i - direction;
    const double share = std::log(level / ohm[before]) / std::log(ohm[i] / ohm[before]);
    return hz[before] * std::pow(hz[i] / hz[before], share);
  }
  return {};
}

/// Where |Z| has fallen to level on both sides of a peak.
std::optional<Band> width_at(const ImpedanceCurve& curve, const Peak& peak, double level) {
  const auto lower = crossing(curve, peak.index, -1, level);
  const auto upper = crossing(curve, peak.index, 1, level);
  if (!lower || !upper) return {};
  return Band{*lower, *upper};
}

bool blocks_direct_current(const BlockChain& chain) {
  return std::any_of(chain.begin(), chain.end(),
                     [](const ModelBlock& e) { return e.kind == BlockKind::capacitor; });
}

double resistance_of(const BlockChain& chain) {
  double ohm = 0;
  for (const ModelBlock& e : chain)
    if (e.kind == BlockKind::resistor || e.kind == BlockKind::resistor_capacitor) ohm += e.ohm;
  return ohm;
}

struct FoundResonance {
  const ModelBlock* block = nullptr;
  const BlockChain* branch = nullptr;
};

/// The highest resonance block near a frequency: others only mend the fit elsewhere.
FoundResonance resonance_near(const PassiveModel& model, double hz) {
  FoundResonance highest;
  for (const BlockChain& branch : model.branches)
    for (const ModelBlock& block : branch) {
      if (block.kind != BlockKind::resonance) continue;
      if (std::abs(std::log(resonance_hz(block) / hz)) > at_peak) continue;
      if (!highest.block || block.ohm > highest.block->ohm) highest = {&block, &branch};
    }
  return highest;
}

/// The peaks of |Z| that noise does not make.
std::vector<Peak> clear_peaks(const ImpedanceCurve& curve) {
  return magnitude_peaks(curve, std::max(0.02, 8 * noise_percent(curve) / 100));
}

/// |Z| in ohm at hz of the inductances of a chain.
double coil_ohm(const BlockChain& chain, double hz) {
  Complex sum = 0;
  for (const ModelBlock& e : chain)
    if (e.kind == BlockKind::inductor || e.kind == BlockKind::lossy_inductor ||
        e.kind == BlockKind::resistor_inductor)
      sum += evaluate(e, Array::Constant(1, hz))[0];
  return std::abs(sum);
}

/// "2.8", "280": two digits or all before the point.
std::string percent_text(double percent) {
  return percent < 10 ? fmt::format("{:.2g}", percent) : fmt::format("{:.0f}", percent);
}

/// Its resistance and the coil's share of it at the resonance.
struct Motor {
  double re = 0, coil_share = 0;
};

Motor motor_of(const PassiveModel& model, const FoundResonance& found) {
  const double hz = resonance_hz(*found.block);
  const double re = resistance_of(*found.branch) + resistance_of(model.common);
  return {re, (coil_ohm(*found.branch, hz) + coil_ohm(model.common, hz)) / re};
}

bool is_only_one_without_capacitor(const PassiveModel& model) {
  const auto blocked =
      std::count_if(model.branches.begin(), model.branches.end(), blocks_direct_current);
  return blocked + 1 == static_cast<std::ptrdiff_t>(model.branches.size());
}

std::string coil_text(double share) {
  return fmt::format("(coil reactance {} % of the resistance)", percent_text(100 * share));
}

/// Why the lowest resonance is no moving coil's, in words that follow it; empty where it may be.
std::string objection(const PassiveModel& model, const FoundResonance& found) {
  if (model.branches.size() > most_branches)
    return fmt::format("is one of a circuit of {} parallel branches, which trade their values",
                       model.branches.size());
  const auto [re, coil_share] = motor_of(model, found);
  if (blocks_direct_current(*found.branch) || !(re > 0))
    return "has no resistance alone in series, as a moving coil has";
  if (!is_only_one_without_capacitor(model))
    return "is not in the only branch without a capacitor, so its values cannot be told from those "
           "of the others";
  if (found.block->ohm < least_motion * re) return "is too weak for a moving coil's";
  const double q = resonance_q(*found.block);
  if (q > largest_driver_q) return fmt::format("has a Q of {:.3g}, too sharp for a moving coil", q);
  if (coil_share > largest_coil)
    return "has too much inductance in series for a moving coil " + coil_text(coil_share) +
           "; an armature's has that";
  return {};
}

}  // namespace

std::optional<DriverParameters> driver_by_recipe(const ImpedanceCurve& curve,
                                                 std::optional<double> dc_ohm) {
  const auto peaks = clear_peaks(curve);
  if (peaks.empty()) return {};
  const double noise = noise_percent(curve) / 100;
  const Peak& peak = peaks.front();
  const double re = dc_ohm.value_or(curve.magnitude_ohm().head(peak.index + 1).minCoeff());
  if (!(re > 0) || !(peak.ohm > re)) return {};
  const double ratio = peak.ohm / re, level = re * std::sqrt(ratio);
  const auto width = width_at(curve, peak, level);
  const auto wider = width_at(curve, peak, level * (1 - 2 * noise)),
             narrower = width_at(curve, peak, level * (1 + 2 * noise));
  if (!width || !wider || !narrower) return {};
  const double centre = std::sqrt(width->low_hz * width->high_hz);
  const double hz = width->high_hz - width->low_hz;
  const double open = (wider->high_hz - wider->low_hz - narrower->high_hz + narrower->low_hz) / 2;
  if (std::abs(centre / peak.hz - 1) > recipe_tolerance || open > recipe_tolerance * hz) return {};
  DriverParameters p = completed(re, peak.ohm, peak.hz, peak.hz * std::sqrt(ratio) / hz);
  p.lower_hz = width->low_hz;
  p.upper_hz = width->high_hz;
  return p;
}

DriverReading read_driver(const PassiveFit& fit, const ImpedanceCurve& curve) {
  if (fit.rms_error_percent > std::max(followed_percent, 2 * fit.noise_percent))
    return {{},
            fmt::format("the fitted circuit is {} % off, too much to read a driver from it",
                        percent_text(fit.rms_error_percent))};
  const auto peaks = clear_peaks(curve);
  if (peaks.empty()) return {{}, "|Z| has no resonance"};
  const FoundResonance found = resonance_near(fit.model, peaks.front().hz);
  if (!found.block)
    return {{},
            fmt::format("the lowest peak of |Z|, at {}, is no resonance of one part of "
                        "the fitted circuit",
                        hz_text(peaks.front().hz))};
  const double hz = resonance_hz(*found.block);
  const std::string lowest = fmt::format("the lowest resonance, {}, ", hz_text(hz));
  const std::string against = objection(fit.model, found);
  if (!against.empty()) return {{}, lowest + against};
  const auto [re, coil_share] = motor_of(fit.model, found);
  return {completed(re, re + found.block->ohm, hz, resonance_q(*found.block)),
          lowest + "looks like a moving coil " + coil_text(coil_share)};
}

}  // namespace ohmtilt
