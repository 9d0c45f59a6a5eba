#include <ohmtilt/base/text.h>
#include <ohmtilt/chain/measured_one_port.h>
#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/curve/minimum_phase.h>

namespace ohmtilt {

Read<OnePort> measured_one_port(const ImpedanceCurve& curve) {
  if (curve.has_phase()) return {one_port(curve), {}};
  return {one_port(curve.with_phase(minimum_phase(curve).phase_deg)),
          {"the output impedance of " + printable(curve.notes().title) +
           " has no phase; its minimum phase is used"}};
}

Read<OnePort> read_measured_one_port(const std::filesystem::path& file) {
  auto [curve, warnings] = read_impedance(file);
  auto one = measured_one_port(curve);
  warnings.insert(warnings.end(), one.warnings.begin(), one.warnings.end());
  return {std::move(one.value), std::move(warnings)};
}

}  // namespace ohmtilt
