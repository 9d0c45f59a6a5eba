#pragma once
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <ohmtilt/text/strict_toml.h>

namespace ohmtilt {

/// How a value lies within its tolerance: anywhere alike; normally with a standard deviation of a
/// third of the tolerance (common practice, no source), cut off at it; or anywhere alike in what is
/// left after those within a closer tolerance were sorted out.
enum class Distribution { uniform, normal, binned };
std::optional<Distribution> distribution_of_name(std::string_view name);
std::string_view distribution_name(Distribution distribution);

/// What the tolerance_percent of a part or pad leaves unsaid. An immutable value.
struct ToleranceDetail {
  std::vector<std::pair<std::string, double>> figure_percent;  ///< of single values, by key
  std::string group;            ///< parts of that name vary together; empty: on its own
  double matching_percent = 0;  ///< how far each part of a group is from what they have in common
  bool group_in_one_channel = false;         ///< the other channel has a group of its own
  std::optional<Distribution> distribution;  ///< nothing: the one that is asked for
  double sorted_out_percent = 0;             ///< of Distribution::binned
  double ppm_per_kelvin = 0;                 ///< of ohm, henry, farad or dc_ohm, from 20 deg C
  double winding_ppm_per_kelvin = 0;         ///< of a coil's series_ohm
  double kelvin_per_watt = 0;                ///< what the part warms itself

  /// Of one value, in percent.
  double percent_of(std::string_view key, double tolerance_percent) const;
};

/// The keys of a part (with_figures) or of a pad.
std::vector<std::string> tolerance_detail_keys(bool with_figures);
/// What a table says of it; null for nothing. Throws InputError for what has no sense.
std::shared_ptr<const ToleranceDetail> read_tolerance_detail(const TomlTable& table,
                                                             double tolerance_percent);
/// The lines that read back the same; empty for null.
std::string tolerance_detail_lines(const std::shared_ptr<const ToleranceDetail>& detail);

}  // namespace ohmtilt
