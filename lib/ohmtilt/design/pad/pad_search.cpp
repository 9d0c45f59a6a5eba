#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/parallel.h>
#include <ohmtilt/base/parallel_progress.h>
#include <ohmtilt/design/pad/pad_search.h>
#include <ohmtilt/design/pad/pad_tolerance.h>
#include <ohmtilt/design/pad/pareto_front.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <tuple>

namespace ohmtilt {
namespace {

constexpr double most_combinations = 4e9;
constexpr std::size_t most_listed = 100'000;
constexpr std::size_t reduce_beyond = 20'000;  // found pads that are reduced to their front at once

/// A combination that keeps target and limits, with what the front is about.
struct Found {
  PadTopology topology;
  std::array<double, 4> ohm;
  Costs costs;  // output_ohm, span_db, -input_min_ohm, |error|
};

void check_target(const PadTarget& target) {
  if (!(target.attenuation_db > 0 && target.attenuation_db <= 200))
    throw InputError(
        "an attenuation of " + number_text(target.attenuation_db) + " dB is not allowed",
        "give decibels above 0, up to 200");
  if (!(target.within_db > 0 && std::isfinite(target.within_db)))
    throw InputError("a pad within " + number_text(target.within_db) + " dB cannot be found",
                     "give a positive number of decibels");
}

void check(const PadSearchOptions& options) {
  check_target(options.target);
  check_limits(options.limits);
  for (const double ohm : options.values_ohm)
    if (!(ohm > 0 && std::isfinite(ohm)))
      throw InputError("a resistor of " + number_text(ohm) + " ohm is not allowed",
                       "give positive values");
  if (options.values_ohm.empty())
    throw InputError("there are no values to build a pad from", "widen the range, or name a stock");
  if (combination_count(options) > most_combinations)
    throw InputError(
        "that is " + number_text(combination_count(options)) + " combinations, more than 4e9",
        "narrow the range, take a coarser series or fewer topologies");
}

std::vector<double> dissipation_milliwatt(const PadSite& site, const Pad& pad) {
  std::vector<double> milliwatt;
  for (const double watt : site.dissipation_watt(pad)) milliwatt.push_back(1000 * watt);
  return milliwatt;
}

double largest(const std::vector<double>& values) {
  return *std::max_element(values.begin(), values.end());
}

/// Goes through all combinations of one topology.
class TopologySearch {
 public:
  TopologySearch(const PadSite& site, const PadSearchOptions& options, PadTopology topology)
      : site_(site),
        options_(options),
        topology_(topology),
        arms_(pad_keys(topology).size()),
        lowest_power_(power_from_db(options.target.attenuation_db - options.target.within_db)),
        highest_power_(power_from_db(options.target.attenuation_db + options.target.within_db)) {}

  /// The combinations whose first value is that one.
  std::vector<Found> with_first(double first) const {
    const auto& values = options_.values_ohm;
    std::vector<Found> found;
    std::array<std::size_t, 4> at{};
    std::array<double, 4> ohm{first, values[0], values[0], values[0]};
    for (std::size_t arm = 0; arm < arms_;) {
      consider(ohm, found);
      for (arm = 1; arm < arms_; ++arm) {
        at[arm] = at[arm] + 1 < values.size() ? at[arm] + 1 : 0;
        ohm[arm] = values[at[arm]];
        if (at[arm] > 0) break;
      }
    }
    return found;
  }

 private:
  void consider(const std::array<double, 4>& ohm, std::vector<Found>& found) const;
  bool keeps_heavy_limits(const ResistiveTwoPort& pad, const std::array<double, 4>& ohm) const;

  const PadSite& site_;
  const PadSearchOptions& options_;
  PadTopology topology_;
  std::size_t arms_;
  double lowest_power_, highest_power_;
};

/// Leaves those of found that none of the others beats.
void reduce_to_front(std::vector<Found>& found) {
  std::vector<Costs> costs;
  costs.reserve(found.size());
  for (const auto& one : found) costs.push_back(one.costs);
  std::vector<Found> front;
  for (const std::size_t index : pareto_front(costs)) front.push_back(found[index]);
  found = std::move(front);
}

void TopologySearch::consider(const std::array<double, 4>& ohm, std::vector<Found>& found) const {
  const ResistiveTwoPort pad = two_port(topology_, std::span(ohm).first(arms_));
  if (!site_.may_attenuate(pad, lowest_power_, highest_power_)) return;
  const double power = site_.attenuation_power(pad);
  if (power < lowest_power_ || power > highest_power_) return;
  const PadLimits& limits = options_.limits;
  const double output_ohm = site_.output_ohm(pad);
  if (!keeps(limits, {PadLimit::output, output_ohm})) return;
  const double span_db = site_.span_db(pad);
  if (!keeps(limits, {PadLimit::span, span_db})) return;
  const double input_ohm = site_.input_min_ohm(pad);
  if (!keeps(limits, {PadLimit::input, input_ohm})) return;
  if (!keeps_heavy_limits(pad, ohm)) return;
  const double error_db = db_from_power(power) - options_.target.attenuation_db;
  found.push_back({topology_, ohm, {output_ohm, span_db, -input_ohm, std::abs(error_db)}});
  if (!options_.dominated_too && found.size() > reduce_beyond) reduce_to_front(found);
}

bool TopologySearch::keeps_heavy_limits(const ResistiveTwoPort& pad,
                                        const std::array<double, 4>& ohm) const {
  const PadLimits& limits = options_.limits;
  if (limits.noise_volt && !keeps(limits, {PadLimit::noise, site_.noise_volt_a_weighted(pad)}))
    return false;
  if (!limits.dissipation_milliwatt) return true;
  const Pad whole{topology_, {ohm.begin(), ohm.begin() + static_cast<long>(arms_)}, 0};
  return keeps(limits, {PadLimit::dissipation, largest(dissipation_milliwatt(site_, whole))});
}

/// All of one topology; the first values share the cores, and come together in their order.
void search_topology(const PadSite& site, const PadSearchOptions& options, PadTopology topology,
                     ParallelProgress& progress, std::vector<Found>& found) {
  const TopologySearch search(site, options, topology);
  std::vector<std::vector<Found>> parts(options.values_ohm.size());
  parallel_for(std::size_t{0}, parts.size(), [&](std::size_t i) {
    parts[i] = search.with_first(options.values_ohm[i]);
    progress.one_more();
  });
  for (const auto& part : parts) found.insert(found.end(), part.begin(), part.end());
  if (options.dominated_too && found.size() > most_listed)
    throw InputError("there are more than 100000 pads within the limits",
                     "allow a smaller error of the attenuation, or ask for the front alone");
  if (!options.dominated_too) reduce_to_front(found);
}

PadCandidate candidate(const PadSite& site, Pad pad, double asked_db) {
  const ResistiveTwoPort matrix = two_port(pad);
  PadCandidate result;
  result.attenuation_db = site.attenuation_db(matrix);
  result.attenuation_error_db = result.attenuation_db - asked_db;
  result.output_ohm = site.output_ohm(matrix);
  result.span_db = site.span_db(matrix);
  result.input_min_ohm = site.input_min_ohm(matrix);
  result.largest_ampere = site.largest_ampere(matrix);
  result.dissipation_milliwatt = dissipation_milliwatt(site, pad);
  result.noise_volt_a_weighted = site.noise_volt_a_weighted(matrix);
  result.pad = std::move(pad);
  return result;
}

Costs costs(const PadCandidate& one) {
  return {one.output_ohm, one.span_db, -one.input_min_ohm, std::abs(one.attenuation_error_db)};
}

void mark_front(std::vector<PadCandidate>& candidates) {
  std::vector<Costs> all;
  all.reserve(candidates.size());
  for (const auto& one : candidates) all.push_back(costs(one));
  for (const std::size_t index : pareto_front(all)) candidates[index].pareto = true;
}

}  // namespace

std::vector<LimitExcess> exceeded(const PadCandidate& pad, const PadLimits& limits) {
  return exceeded({{PadLimit::span, pad.span_db},
                   {PadLimit::output, pad.output_ohm},
                   {PadLimit::input, pad.input_min_ohm},
                   {PadLimit::dissipation, largest(pad.dissipation_milliwatt)},
                   {PadLimit::noise, pad.noise_volt_a_weighted},
                   {PadLimit::parts, double(resistor_count(pad.pad.topology))}},
                  limits);
}

double combination_count(const PadSearchOptions& options) {
  double count = 0;
  for (const PadTopology topology : options.topologies)
    count += std::pow(double(options.values_ohm.size()), double(pad_keys(topology).size()));
  return count;
}

PadSearch evaluate_pads(const PadSite& site, const std::vector<Pad>& pads,
                        const PadSearchOptions& options) {
  const PadDraws draws(options.draws);
  PadSearch result;
  result.searched = double(pads.size());
  result.candidates.resize(pads.size());
  parallel_for(std::size_t{0}, pads.size(), [&](std::size_t i) {
    PadCandidate& one = result.candidates[i];
    one = candidate(site, pads[i], options.target.attenuation_db);
    const PadSpread spread = draws.spread(site, one.pad);
    one.attenuation_p95_db = spread.attenuation_p95_db;
    one.channel_difference_p95_db = spread.channel_difference_p95_db;
  });
  mark_front(result.candidates);
  const PadChoice choice =
      recommended_pad(result.candidates, {site.load_min_ohm(), options.max_ampere});
  result.recommended = choice.index;
  result.reason = choice.reason;
  return result;
}

PadSearch search_pads(const PadSite& site, const PadSearchOptions& options) {
  check(options);
  std::vector<Found> found;
  ParallelProgress progress(options.progress,
                            options.topologies.size() * options.values_ohm.size());
  for (const PadTopology topology : options.topologies)
    if (keeps(options.limits, {PadLimit::parts, double(resistor_count(topology))}))
      search_topology(site, options, topology, progress, found);
  progress.finish();
  std::sort(found.begin(), found.end(), [](const Found& a, const Found& b) {
    return std::tie(a.costs, a.topology, a.ohm) < std::tie(b.costs, b.topology, b.ohm);
  });
  std::vector<Pad> pads;
  for (const auto& one : found) {
    const auto arms = static_cast<std::ptrdiff_t>(pad_keys(one.topology).size());
    pads.push_back(
        {one.topology, {one.ohm.begin(), one.ohm.begin() + arms}, options.tolerance_percent});
  }
  PadSearch result = evaluate_pads(site, pads, options);
  result.searched = combination_count(options);
  return result;
}

}  // namespace ohmtilt
