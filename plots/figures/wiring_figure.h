#pragma once
#include <ohmtilt/measure/impedance.h>
#include <plots/figures/schematic.h>

#include <optional>

namespace ohmtilt::plots {

/// What is recorded: the earphone, or a calibration.
enum class WiredPart { earphone, same, open, shorted, known };

/// The rating a reference of this resistance needs at a line output of 2 V when the earphone's
/// place is shorted: the next of 0.25, 0.5, 1, 2, 5 and 10 watt above V^2/R.
double reference_watt(double reference_ohm);

/// How a sound card, a reference resistor and an earphone (or what a calibration puts there) are
/// connected: the first input across both, the second one across the earphone's place or the
/// reference, with the contacts of a 3.5 mm plug. Without a resistance the figure says which to
/// take.
Schematic wiring_schematic(Wiring wiring, WiredPart part = WiredPart::earphone,
                           const std::optional<double>& reference_ohm = std::nullopt);

}  // namespace ohmtilt::plots
