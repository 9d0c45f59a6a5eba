#pragma once
#include <optional>
#include <vector>

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

/// One of them.
enum class PadLimit { span, output, input, dissipation, noise, parts };

/// What stands under a limit, in the limit's unit.
struct LimitedFigure {
  PadLimit limit;
  double value;
};

/// A limit that is exceeded.
struct LimitExcess {
  PadLimit limit;
  double value, allowed;  ///< in the limit's unit
  double times;           ///< by which factor, above 1
};

/// A figure that equals its limit keeps it, and so does any where there is no limit.
bool keeps(const PadLimits& limits, const LimitedFigure& figure);
/// In the order of figures.
std::vector<LimitExcess> exceeded(const std::vector<LimitedFigure>& figures,
                                  const PadLimits& limits);

}  // namespace ohmtilt
