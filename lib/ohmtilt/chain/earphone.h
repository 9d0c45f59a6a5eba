#pragma once
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/curve/impedance_curve.h>
#include <ohmtilt/curve/one_port.h>

namespace ohmtilt {

/// Where an impedance's phase comes from.
enum class PhaseOrigin { measured, minimum, computed };
/// "measured", "minimum" or "computed".
const char* to_string(PhaseOrigin phase);

/// An earphone, wherever its impedance comes from. An immutable value.
struct Earphone {
  std::string title;
  OnePort impedance;
  PhaseOrigin phase = PhaseOrigin::measured;
  /// The same magnitudes with other admissible phases; empty unless phase is minimum.
  std::vector<OnePort> phase_alternatives;
  std::optional<ImpedanceCurve> curve;  ///< its data; nothing for a circuit
  std::vector<std::string> warnings;
};

/// From an impedance curve; a magnitude-only one gets its minimum phase and says so in warnings.
Earphone earphone_from_curve(const ImpedanceCurve& curve);

/// Reads a curve file. Throws InputError.
Earphone read_earphone(const std::filesystem::path& file);

}  // namespace ohmtilt
