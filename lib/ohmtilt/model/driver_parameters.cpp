#include <fmt/format.h>
#include <ohmtilt/curve/peaks.h>
#include <ohmtilt/model/driver_parameters.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace ohmtilt {
namespace {

using Eigen::Index;
constexpr double two_pi = 2 * std::numbers::pi;
constexpr double largest_driver_q = 50;  ///< beyond it a block only mends the fit elsewhere
constexpr double largest_coil = 0.25;    ///< of the resistance, at the resonance

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

FoundResonance lowest_resonance(const PassiveModel& model) {
  FoundResonance lowest;
  for (const BlockChain& branch : model.branches)
    for (const ModelBlock& block : branch) {
      if (block.kind != BlockKind::resonance) continue;
      if (lowest.block && resonance_hz(block) >= resonance_hz(*lowest.block)) continue;
      lowest = {&block, &branch};
    }
  return lowest;
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

}  // namespace

std::optional<DriverParameters> driver_by_recipe(const ImpedanceCurve& curve,
                                                 std::optional<double> dc_ohm) {
  const auto peaks = magnitude_peaks(curve);
  if (peaks.empty()) return {};
  const Peak& peak = peaks.front();
  const double re = dc_ohm.value_or(curve.magnitude_ohm().head(peak.index + 1).minCoeff());
  if (!(re > 0) || !(peak.ohm > re)) return {};
  const double ratio = peak.ohm / re, level = re * std::sqrt(ratio);
  const auto lower = crossing(curve, peak.index, -1, level);
  const auto upper = crossing(curve, peak.index, 1, level);
  if (!lower || !upper) return {};
  DriverParameters p =
      completed(re, peak.ohm, peak.hz, peak.hz * std::sqrt(ratio) / (*upper - *lower));
  p.lower_hz = *lower;
  p.upper_hz = *upper;
  return p;
}

/// "2.8", "280": two digits or all before the point.
std::string percent_text(double percent) {
  return percent < 10 ? fmt::format("{:.2g}", percent) : fmt::format("{:.0f}", percent);
}

DriverReading read_driver(const PassiveModel& model) {
  const FoundResonance found = lowest_resonance(model);
  if (!found.block) return {{}, "the fitted circuit has no resonance"};
  const double hz = resonance_hz(*found.block), q = resonance_q(*found.block);
  const std::string lowest = fmt::format("the lowest resonance, {:.4g} Hz, ", hz);
  const double re = resistance_of(*found.branch) + resistance_of(model.common);
  if (blocks_direct_current(*found.branch) || !(re > 0))
    return {{}, lowest + "has no resistance alone in series, as a moving coil has"};
  if (q > largest_driver_q)
    return {{}, lowest + fmt::format("has a Q of {:.3g}, too sharp for a moving coil", q)};
  const double share = (coil_ohm(*found.branch, hz) + coil_ohm(model.common, hz)) / re;
  if (share > largest_coil)
    return {{},
            lowest + fmt::format("is in series with a coil of {} % of its resistance there, "
                                 "too much for a moving coil (an armature's has that)",
                                 percent_text(100 * share))};
  return {completed(re, re + found.block->ohm, hz, q),
          lowest + fmt::format("is in series with a resistance and a coil of only {} % of it "
                               "there, as a moving coil is",
                               percent_text(100 * share))};
}

}  // namespace ohmtilt
