#pragma once
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace ohmtilt {

/// What a column of a meter's readings holds: one of our own names (frequency_hz, volt_both,
/// volt_load, volt_reference, ampere; load_ohm, volt), and by what its numbers are multiplied to be
/// in that name's unit.
struct MeterColumn {
  std::string name;
  double factor = 1;
};

/// The meaning of a column's name in people's own words: "U load (mV)", "V_ref", "I [mA]", "f/kHz",
/// "millivolt_both"; nothing for what is none of the known names.
std::optional<MeterColumn> meter_column(std::string_view words,
                                        const std::vector<std::string>& known);

}  // namespace ohmtilt
