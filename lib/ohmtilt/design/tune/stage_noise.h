#pragma once
#include <ohmtilt/circuit/circuit.h>

#include <ohmtilt/base/array.h>

namespace ohmtilt {

/// A-weighted thermal noise in V at the terminals of a whole_circuit(), of all its parts but the
/// amplifier's and the earphone's, between the ends of hz.
double stage_noise_volt(const Circuit& whole, const Array& hz);

}  // namespace ohmtilt
