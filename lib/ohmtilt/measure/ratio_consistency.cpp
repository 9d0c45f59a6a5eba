#include <ohmtilt/base/decibel.h>
#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/curve/minimum_phase.h>
#include <ohmtilt/measure/ratio_consistency.h>
#include <cmath>

namespace ohmtilt {
namespace {

using Eigen::Index;

/// Variance (degrees squared) of the computed phase and of the measured one.
Array variance_of(const MinimumPhase& computed, const Array& measured_deg) {
  Array variance = measured_deg.square() + 0.01;
  for (std::size_t end = 0; end + 1 < computed.alternatives_deg.size(); end += 2)
    variance += (computed.alternatives_deg[end + 1] - computed.phase_deg).square();
  return variance;
}

/// Of the ratio, from what the recordings' own errors make of the impedance (a wrong reference or
/// leads change both parts alike): dm/m = (1 - m) dZ/Z at the earphone, m dZ/Z at the reference,
/// each by its size.
Array phase_uncertainty_deg(const MeasuredImpedance& measured, const ComplexArray& other) {
  return (measured.random_ohm / measured.impedance_ohm.abs() * other.abs() / degree).min(180);
}

}  // namespace

RatioConsistency ratio_consistency(const MeasuredImpedance& measured, Wiring wiring,
                                   double reference_ohm) {
  const Array& hz = measured.frequency_hz;
  const ComplexArray share = measured.impedance_ohm / (measured.impedance_ohm + reference_ohm);
  const ComplexArray rest = 1.0 - share;
  const ComplexArray& ratio = wiring == Wiring::load ? share : rest;
  const MinimumPhase computed = minimum_phase_of_ratio(ImpedanceCurve({}, hz, ratio.abs()));
  const Array own_deg = phase_uncertainty_deg(measured, wiring == Wiring::load ? rest : share);
  const Array apart = unwrapped_deg(ratio.arg() / degree - computed.phase_deg);
  const Array weight = 1 / variance_of(computed, own_deg);
  const double all = weight.sum();
  const double middle_hz = (weight * hz).sum() / all, middle_deg = (weight * apart).sum() / all;
  const Array from_middle = hz - middle_hz;
  const double slope =
      (weight * from_middle * (apart - middle_deg)).sum() / (weight * from_middle.square()).sum();
  RatioConsistency result;
  result.delay_seconds = -slope / 360;
  result.offset_deg = std::remainder(middle_deg - slope * middle_hz, 360.0);
  const Array left = apart - middle_deg - slope * from_middle;
  result.residual_deg = std::sqrt((weight * left.square()).sum() / all);
  result.expected_deg = std::sqrt((weight * own_deg.square()).sum() / all);
  result.active_share =
      (measured.impedance_ohm.real() < -4 * measured.uncertainty_ohm).cast<double>().mean();
  return result;
}

}  // namespace ohmtilt
