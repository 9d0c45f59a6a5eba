#include <ohmtilt/base/decibel.h>
#include <ohmtilt/curve/minimum_phase.h>
#include <ohmtilt/measure/divider_impedance.h>
#include <ohmtilt/measure/uncertainty_propagation.h>
#include <algorithm>
#include <cmath>
#include <vector>

namespace ohmtilt {
namespace {

using Eigen::Index;

using PhaseOf = MinimumPhase (*)(const ImpedanceCurve&);

class Divider {
 public:
  Divider(const Array& ratio, Wiring wiring, double reference_ohm)
      : ratio_(ratio), at_load_(wiring == Wiring::load), reference_ohm_(reference_ohm) {}

  /// Z where the ratio has this phase; Re w >= 1 bounds it.
  ComplexArray impedance(const Array& phase_deg) const {
    const Array most = ratio_.min(1).acos();
    const Array phase = (phase_deg * degree).min(most).max(-most);
    ComplexArray inverse(phase.size());
    for (Index i = 0; i < phase.size(); ++i) inverse[i] = std::polar(1 / ratio_[i], -phase[i]);
    return at_load_ ? ComplexArray(reference_ohm_ / (inverse - 1.0))
                    : reference_ohm_ * (inverse - 1.0);
  }

 private:
  Array ratio_;
  bool at_load_;
  double reference_ohm_;
};

/// Root mean square over five neighbours.
Array smoothed(const Array& values) {
  Array result(values.size());
  for (Index i = 0; i < values.size(); ++i) {
    const Index from = std::max<Index>(0, i - 2);
    const Index n = std::min(values.size() - 1, i + 2) - from + 1;
    result[i] = std::sqrt(values.segment(from, n).square().mean());
  }
  return result;
}

/// The phase at every second datum, from the first or the second on, that these data alone give;
/// elsewhere the phase of all. Both ends always take part.
Array halved(const Array& hz, const Array& magnitude, const Array& phase_deg, Index from,
             PhaseOf phase_of) {
  std::vector<Index> kept;
  for (Index i = 0; i < hz.size(); ++i)
    if (i == 0 || i == hz.size() - 1 || i % 2 == from) kept.push_back(i);
  const Array of_kept = phase_of(ImpedanceCurve({}, hz(kept), magnitude(kept))).phase_deg;
  Array result = phase_deg;
  for (Index i = 0; i < of_kept.size(); ++i) result[kept[i]] = of_kept[i];
  return result;
}

Array open_between(const Array& hz, const Array& magnitude, const Array& phase_deg,
                   PhaseOf phase_of) {
  const Array even = halved(hz, magnitude, phase_deg, 0, phase_of);
  const Array odd = halved(hz, magnitude, phase_deg, 1, phase_of);
  return smoothed((even - phase_deg).abs().max((odd - phase_deg).abs()));
}

}  // namespace

DividerImpedance impedance_of_divider(const Array& hz, const Array& ratio, Wiring wiring,
                                      double reference_ohm) {
  const Divider divider(ratio, wiring, reference_ohm);
  const MinimumPhase phase = minimum_phase_of_ratio(ImpedanceCurve({}, hz, ratio));
  const Array& best = phase.phase_deg;
  const ComplexArray z = divider.impedance(best);
  Array variance_ohm = Array::Zero(hz.size()), variance_rad = variance_ohm;
  const auto add = [&](const Array& above, const Array& below) {
    const ComplexArray over = divider.impedance(above), under = divider.impedance(below);
    variance_ohm += (over.abs() - z.abs()).square().max((under.abs() - z.abs()).square());
    variance_rad += (over / z).arg().square().max((under / z).arg().square());
  };
  for (std::size_t i = 0; i + 1 < phase.alternatives_deg.size(); i += 2)
    add(phase.alternatives_deg[i], phase.alternatives_deg[i + 1]);
  const Array between = open_between(hz, ratio, best, minimum_phase_of_ratio);
  add(best + between, best - between);
  return {z, variance_ohm.sqrt(), variance_rad.sqrt() / degree};
}

Array phase_open_between(const Array& hz, const Array& magnitude, const Array& phase_deg) {
  return open_between(hz, magnitude, phase_deg, minimum_phase_of_ratio);
}

}  // namespace ohmtilt
