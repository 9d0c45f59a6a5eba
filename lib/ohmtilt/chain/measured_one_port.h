#pragma once
#include <filesystem>

#include <ohmtilt/curve/one_port.h>
#include <ohmtilt/curve/read_curve.h>

namespace ohmtilt {

/// An impedance curve as a one-port; a magnitude-only one gets its minimum phase and a warning.
Read<OnePort> measured_one_port(const ImpedanceCurve& curve);
/// The same from a curve file. Throws InputError.
Read<OnePort> read_measured_one_port(const std::filesystem::path& file);

}  // namespace ohmtilt
