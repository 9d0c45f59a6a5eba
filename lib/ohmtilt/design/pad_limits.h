#pragma once
#include <optional>

namespace ohmtilt {

/// What a pad must keep; nothing: no limit. All positive.
struct PadLimits {
  std::optional<double> span_db;                ///< at most
  std::optional<double> output_ohm;             ///< at most
  std::optional<double> input_ohm;              ///< at least, lowest |Z| the amplifier sees
  std::optional<double> dissipation_milliwatt;  ///< at most, in each resistor at the site's level
  std::optional<double> noise_volt;             ///< at most, A-weighted
  std::optional<int> parts;                     ///< at most, resistors in all
};

/// Throws InputError for a limit that is not positive and finite.
void check_limits(const PadLimits& limits);

}  // namespace ohmtilt
