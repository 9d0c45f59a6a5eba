#include <ohmtilt/circuit/driver_parameters.h>
#include <ohmtilt/curve/peaks.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace ohmtilt {
namespace {

using Eigen::Index;
constexpr double two_pi = 2 * std::numbers::pi;
constexpr double largest_driver_q = 50;  ///< beyond it a block only mends the fit elsewhere

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

std::optional<DriverParameters> driver_from_circuit(const PassiveModel& model) {
  const ModelBlock* lowest = nullptr;
  const BlockChain* home = nullptr;
  for (const BlockChain& branch : model.branches)
    for (const ModelBlock& block : branch) {
      if (block.kind != BlockKind::resonance) continue;
      if (lowest != nullptr && resonance_hz(block) >= resonance_hz(*lowest)) continue;
      lowest = &block;
      home = &branch;
    }
  if (lowest == nullptr || blocks_direct_current(*home)) return {};
  const double re = resistance_of(*home) + resistance_of(model.common);
  if (!(re > 0) || resonance_q(*lowest) > largest_driver_q) return {};
  return completed(re, re + lowest->ohm, resonance_hz(*lowest), resonance_q(*lowest));
}

}  // namespace ohmtilt
