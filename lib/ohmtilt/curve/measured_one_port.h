#pragma once
#include <string>

#include <ohmtilt/curve/one_port.h>
#include <ohmtilt/curve/read_curve.h>

namespace ohmtilt {

/// The curve as an impedance; without a phase by its minimum phase, which a warning says of what
/// ("the output impedance of ...").
Read<OnePort> measured_one_port(const ImpedanceCurve& curve, const std::string& what);

}  // namespace ohmtilt
