#pragma once
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/analysis/tolerance/tolerance.h>
#include <ohmtilt/design/insertion/insertion_point.h>
#include <ohmtilt/design/pad/pad_limits.h>

namespace ohmtilt {

struct PadTarget {
  double attenuation_db = 10;  ///< > 0, as PadSite::attenuation_db
  double within_db = 0.5;      ///< > 0: a pad further from it is none
};

/// 4000 draws: many pads share the time.
inline ToleranceOptions default_pad_draws() {
  ToleranceOptions draws;
  draws.samples = 4000;
  return draws;
}

struct PadSearchOptions {
  std::vector<PadTopology> topologies{PadTopology::L};
  std::vector<double> values_ohm;  ///< what there is, each positive; a value may be used again
  PadTarget target;
  PadLimits limits;
  /// What the amplifier can give, rms: a pad that asks for more is not recommended if there is one
  /// that does not.
  std::optional<double> max_ampere;
  bool dominated_too = false;  ///< all pads within the limits; at most 100,000
  double tolerance_percent = 1;
  ToleranceOptions draws = default_pad_draws();  ///< of the resistors, as PadDraws
  std::function<void(double)>
      progress;  ///< told how much of the search is done, 0 to 1; may be empty
};

/// One pad and what it does. Levels and currents are at the site's open_volt.
struct PadCandidate {
  Pad pad;
  double attenuation_db = 0;
  double attenuation_error_db = 0;            ///< attenuation less what was asked for
  double output_ohm = 0;                      ///< |Z| at the anchor, source included
  double span_db = 0;                         ///< of the deviation it brings
  double input_min_ohm = 0;                   ///< the lowest |Z| that the amplifier sees
  double largest_ampere = 0;                  ///< out of the amplifier
  std::vector<double> dissipation_milliwatt;  ///< in each resistor, one a value
  double attenuation_p95_db = 0;              ///< as PadSpread
  double channel_difference_p95_db = 0;
  double noise_volt_a_weighted = 0;
  bool pareto = false;  ///< no other beats it in |error|, output_ohm, span_db and input_min_ohm
};

/// The limits that a pad exceeds, in the order of PadLimit.
std::vector<LimitExcess> exceeded(const PadCandidate& pad, const PadLimits& limits);

struct PadSearch {
  std::vector<PadCandidate> candidates;    ///< by output_ohm, rising
  std::optional<std::size_t> recommended;  ///< nothing when there are no candidates
  std::string reason;                      ///< why that one, in a sentence
  double searched = 0;                     ///< combinations covered
};

/// Every combination of values_ohm in every topology: those within target and limits that no other
/// beats, which is the Pareto front in |attenuation_error_db|, output_ohm, span_db (small) and
/// input_min_ohm (large). Exact: the attenuation of each combination is worked out, and only what
/// fails a hard limit or is dominated is left out. Throws InputError for bad options, for more than
/// 4e9 combinations, and for too many pads to list.
PadSearch search_pads(const PadSite& site, const PadSearchOptions& options);

/// The figures of given pads, which are taken as they are; the front among them is marked. Uses
/// target.attenuation_db, max_ampere and the draws of options; its limits are not asked.
PadSearch evaluate_pads(const PadSite& site, const std::vector<Pad>& pads,
                        const PadSearchOptions& options);

/// How many combinations options asks for.
double combination_count(const PadSearchOptions& options);

/// Which pad to take, and why.
struct PadChoice {
  std::optional<std::size_t> index;
  std::string reason;
};
/// What the amplifier is to be spared: a load below that of the earphone alone, and a current
/// beyond what it can give.
struct AmplifierNeeds {
  double load_min_ohm = 0;
  std::optional<double> max_ampere;
};
/// Of candidates on the front: the smallest span among those that keep the amplifier's needs, or,
/// where there is none, the one that loads it least. Spans within 0.01 dB and loads within 1 % are
/// alike: then the fewest resistors, then the nearest attenuation.
PadChoice recommended_pad(const std::vector<PadCandidate>& candidates, const AmplifierNeeds& needs);

}  // namespace ohmtilt
