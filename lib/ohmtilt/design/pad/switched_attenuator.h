#pragma once
#include <vector>

#include <ohmtilt/design/pad/pad_search.h>
#include <ohmtilt/design/pad/pad_tolerance.h>

namespace ohmtilt {

struct SwitchedAttenuatorOptions {
  std::vector<double> steps_db;    ///< rising, the first >= 0; up to 48
  std::vector<double> values_ohm;  ///< what there is, rising, each positive
  /// From end to end, met within 12 % if the values can; nothing: the earphone's lowest |Z|, so
  /// that the amplifier sees about half of it or more, or as much above that as the values ask for.
  std::optional<double> total_ohm;
  double within_db = 0.5;                        ///< the largest error of a step, > 0
  double tolerance_percent = 1;                  ///< of each resistor of the row
  ToleranceOptions draws = default_pad_draws();  ///< of the row, the same for all steps
};

/// A row of resistors across the amplifier's output; a switch takes the earphone to one of its
/// joints. Each step is an L pad whose series is all above the joint and whose shunt all below.
struct SwitchedAttenuator {
  struct Step {
    double asked_db = 0;
    Pad pad;
    double attenuation_db = 0, output_ohm = 0, span_db = 0, input_min_ohm = 0;
    PadSpread spread;
    double largest_ampere = 0;  ///< out of the amplifier, at the site's open_volt
    double noise_volt_a_weighted = 0;
    std::vector<double> dissipation_milliwatt;  ///< in each resistor of the row, at open_volt
  };
  std::vector<double> ohm;  ///< from the amplifier to the return; steps share them all
  double total_ohm() const;
  std::vector<Step> steps;
};

/// Each joint where a continuous row has exactly its step, parts brought to values there are from
/// the return upwards so that what is below each joint fits, then parts changed, one or two that
/// meet, while the largest error of a step falls or the row comes nearer to its resistance. Throws
/// InputError for steps that do not rise, and naming the worst step where the values there are
/// leave it further off than within_db.
SwitchedAttenuator switched_attenuator(const PadSite& site,
                                       const SwitchedAttenuatorOptions& options);

/// A limit that a switch exceeds.
struct SwitchExcess {
  LimitExcess excess;
  std::optional<double> asked_db;  ///< the step that exceeds it most; nothing: the whole row
};
/// Each limit once; the row's own, which is that of its parts, last.
std::vector<SwitchExcess> exceeded(const SwitchedAttenuator& ladder, const PadLimits& limits);

}  // namespace ohmtilt
