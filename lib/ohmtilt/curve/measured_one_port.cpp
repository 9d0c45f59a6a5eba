#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/curve/measured_one_port.h>
#include <ohmtilt/curve/minimum_phase.h>

namespace ohmtilt {

Read<OnePort> measured_one_port(const ImpedanceCurve& curve, const std::string& what) {
  if (curve.has_phase()) return {one_port(curve), {}};
  return {one_port(curve.with_phase(minimum_phase(curve).phase_deg)),
          {what + " has no phase; its minimum phase is used"}};
}

}  // namespace ohmtilt
