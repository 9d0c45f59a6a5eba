#pragma once
#include <ohmtilt/measure/impedance.h>
#include <plots/figures/schematic.h>

namespace ohmtilt::plots {

/// How a sound card, a reference resistor and an earphone are connected for a measurement: the
/// first input across both, the second one across the earphone or the reference.
Schematic wiring_schematic(Wiring wiring);

}  // namespace ohmtilt::plots
