#include <ohmtilt/analysis/deviation/span.h>
#include <ohmtilt/analysis/tolerance/trials.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/parallel.h>
#include <ohmtilt/base/percentiles.h>
#include <ohmtilt/design/flatten/flatten_fit.h>
#include <ohmtilt/design/flatten/part_search.h>
#include <ohmtilt/design/insertion/insertion_point.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
#include <boost/math/tools/minima.hpp>
#include <cmath>
#include <numbers>

namespace ohmtilt {
namespace {

constexpr Eigen::Index search_points = 96;
constexpr Eigen::Index shown_sources = 25;
constexpr std::size_t kept_networks = 3;  // of each number of branches, from each way to find them

constexpr std::size_t most_single = 1'000'000;  // combinations of parts in a first branch
constexpr std::size_t most_further = 50'000;    // in a further one, which is then improved

void check(const FlattenOptions& options) {
  const auto refuse = [](const std::string& what, double value, const std::string& remedy) {
    throw InputError(what + " of " + number_text(value) + " is out of bounds", remedy);
  };
  const auto positive = [](double value) { return value > 0 && std::isfinite(value); };
  if (options.points < 16) refuse("a number of points", double(options.points), "give 16 or more");
  if (!positive(options.source_ohm))
    refuse("a largest source", options.source_ohm, "give a positive number of ohms");
  if (!positive(options.limit_db)) refuse("a span", options.limit_db, "give positive decibels");
  if (options.branches < 1 || options.branches > 6)
    refuse("a number of branches", options.branches, "give 1 to 6");
  if (options.least_ohm && !positive(*options.least_ohm))
    refuse("a lowest impedance", *options.least_ohm, "give a positive number of ohms");
  if (!positive(options.largest_henry))
    refuse("a largest coil", options.largest_henry, "give a positive number of henries");
  if (!positive(options.largest_farad))
    refuse("a largest capacitor", options.largest_farad, "give a positive number of farads");
  if (!(options.least_worth_db >= 0 && std::isfinite(options.least_worth_db)))
    refuse("a part's least worth", options.least_worth_db, "give 0 dB or more");
  if (!(options.coil_ohm_per_henry >= 0 && std::isfinite(options.coil_ohm_per_henry)))
    refuse("a coil's resistance", options.coil_ohm_per_henry, "give ohms per henry, 0 or more");
  for (const double percent : {options.tolerance_percent, options.variation_percent})
    if (!(percent >= 0 && percent < 50)) refuse("a percentage", percent, "give 0 to less than 50");
}

using Starts = std::vector<std::vector<FlattenBranch>>;

/// Networks with one branch more than those given, and the dual network with as many.
Starts starts_of(const FlattenGoal& goal, const std::vector<Network>& networks,
                 const std::vector<FlattenBranch>& dual, std::size_t count) {
  Starts starts;
  for (const auto& network : networks)
    for (auto& start : starts_with_another(goal, network.branches))
      starts.push_back(std::move(start));
  if (dual.size() >= count)
    starts.emplace_back(dual.begin(), dual.begin() + static_cast<std::ptrdiff_t>(count));
  return starts;
}

/// Where the values of a list lie; nothing for an empty list.
template <class Values, class Value>
std::optional<PartRange> range_of(const Values& values, Value value) {
  if (values.empty()) return std::nullopt;
  return PartRange{value(values.front()), value(values.back())};
}

FlattenGoal goal_on(const Array& hz, const Earphone& earphone, const FlattenOptions& options,
                    const PartChoices& parts) {
  FlattenGoal goal;
  goal.hz = hz;
  goal.load_ohm = earphone.impedance.at(hz);
  goal.source_ohm = options.source_ohm;
  goal.coil_ohm_per_henry = options.coil_ohm_per_henry;
  const auto itself = [](double value) { return value; };
  goal.ohm = range_of(parts.ohms, itself).value_or(buyable_ohm);
  goal.henry = range_of(parts.coils, [](const CoilChoice& coil) { return coil.henry; });
  goal.farad = range_of(parts.farads, itself);
  return goal;
}

/// The best first, each once, no more than most.
void keep_best(std::vector<ChosenNetwork>& networks, std::size_t most) {
  std::stable_sort(networks.begin(), networks.end(),
                   [](const auto& a, const auto& b) { return a.power_ratio < b.power_ratio; });
  const auto same = [](const auto& a, const auto& b) { return a.power_ratio == b.power_ratio; };
  networks.erase(std::unique(networks.begin(), networks.end(), same), networks.end());
  networks.resize(std::min(networks.size(), most));
}

/// Two searches side by side: values that move freely, and parts that can be had.
class NetworkSearch {
 public:
  NetworkSearch(const FlattenGoal& coarse, const FlattenGoal& whole, const PartChoices& parts,
                const FlattenOptions& options)
      : options_(options),
        goal_(coarse),
        whole_(whole),
        coarse_(coarse, parts),
        fine_(whole, parts),
        free_{{{}, flatten_cost(coarse, {})}},
        chosen_{coarse_.judged({})},
        best_(fine_.judged({})) {}

  /// The fewest branches that keep the limit, or the best of all tried.
  std::vector<FlattenBranch> found();

 private:
  void add_branch(std::size_t count, const std::vector<FlattenBranch>& dual);
  void take_if_best(const ChosenNetwork& network);
  /// On the whole grid, over all sources.
  double span_db(const ChosenNetwork& network) const {
    return worst_span_db(flattened_ohm(whole_.load_ohm, fine_.branches_of(network), whole_.hz),
                         whole_.source_ohm);
  }
  bool within_limit(const ChosenNetwork& network) const {
    return span_db(network) <= options_.limit_db;
  }

  const FlattenOptions& options_;
  const FlattenGoal &goal_, &whole_;
  PartSearch coarse_, fine_;
  std::vector<Network> free_;          // with values that move freely
  std::vector<ChosenNetwork> chosen_;  // of parts
  ChosenNetwork best_;
};

void NetworkSearch::add_branch(std::size_t count, const std::vector<FlattenBranch>& dual) {
  std::vector<ChosenNetwork> starts;
  const std::size_t most = count == 1 ? most_single : most_further;
  for (const auto& network : chosen_)
    for (auto& start : coarse_.with_another(network, most)) starts.push_back(std::move(start));
  if (count == 2)
    if (auto pair = coarse_.best_pair()) starts.push_back(std::move(*pair));
  free_ = networks_from(goal_, starts_of(goal_, free_, dual, count), kept_networks);
  for (const auto& network : free_)
    if (auto start = coarse_.nearest(network.branches)) starts.push_back(std::move(*start));
  parallel_for(std::size_t{0}, starts.size(),
               [&](std::size_t i) { starts[i] = coarse_.improved(std::move(starts[i])); });
  keep_best(starts, kept_networks);
  chosen_ = std::move(starts);
}

void NetworkSearch::take_if_best(const ChosenNetwork& network) {
  const auto on_whole_grid = fine_.improved(fine_.judged(network.branches));
  if (on_whole_grid.power_ratio < best_.power_ratio) best_ = on_whole_grid;
}

std::vector<FlattenBranch> NetworkSearch::found() {
  if (within_limit(best_)) return {};
  const auto most = static_cast<std::size_t>(options_.branches);
  const auto dual = dual_branches(goal_, goal_.load_ohm.abs().minCoeff(), most);
  for (std::size_t count = 1; count <= most && !within_limit(best_); ++count) {
    add_branch(count, dual);
    for (const auto& network : chosen_) take_if_best(network);
  }
  const auto fewer = fine_.without_idle_parts(best_, options_.least_worth_db, options_.limit_db);
  const bool as_good = within_limit(fewer) || !within_limit(best_);
  return fine_.branches_of(as_good ? fewer : best_);
}

double varied_span_db(const FlattenOptions& options, const Flattening& result,
                      const Earphone& earphone) {
  const Band known = earphone.impedance.range();
  const double factor = 1 + options.variation_percent / 100;
  double largest = result.span_after_db;
  for (const double scale : {1 / factor, factor})
    for (const bool in_hertz : {false, true}) {
      const Array hz =
          in_hertz ? Array((result.hz * scale).max(known.low_hz).min(known.high_hz)) : result.hz;
      const ComplexArray load = earphone.impedance.at(hz) * (in_hertz ? 1 : scale);
      largest = std::max(largest, worst_span_db(flattened_ohm(load, result.branches, result.hz),
                                                options.source_ohm));
    }
  return largest;
}

double toleranced_span_db(const FlattenOptions& options, const Flattening& result) {
  ToleranceOptions how;
  how.samples = options.samples;
  how.seed = options.seed;
  const Draws draws = Draws::random(how);
  const double part = options.tolerance_percent / 100;
  Array spans(draws.count());
  for (Eigen::Index draw = 0; draw < draws.count(); ++draw) {
    auto branches = result.branches;
    std::size_t value = 0;
    const auto varied = [&](double nominal) {
      return nominal * (1 + part * draws.deviate(draw, value++));
    };
    for (auto& branch : branches) {
      branch.ohm = varied(branch.ohm);
      if (branch.coil_ohm > 0) branch.coil_ohm = varied(branch.coil_ohm);
      if (branch.henry) branch.henry = varied(*branch.henry);
      if (branch.farad) branch.farad = varied(*branch.farad);
    }
    spans[draw] =
        worst_span_db(flattened_ohm(result.before_ohm, branches, result.hz), options.source_ohm);
  }
  return percentile(std::move(spans), 0.95);
}

/// L pads that give the output impedance output_ohm behind source_ohm; more series, more input.
Pad pad_of_output(double source_ohm, double output_ohm, double series_ohm) {
  const double above = source_ohm + series_ohm;
  return {PadTopology::L, {series_ohm, above * output_ohm / (above - output_ohm)}, 0};
}

std::optional<PadInstead> pad_instead(const Earphone& earphone, const FlattenOptions& options,
                                      const Flattening& result) {
  const SpanOverResistance bare(result.before_ohm,
                                {ComplexArray::Zero(result.hz.size()), ComplexArray()});
  const auto allowed = largest_source(bare, 0, std::max(result.span_after_db, 1e-3)).ohm;
  if (!allowed || *allowed >= options.source_ohm) return std::nullopt;
  PadSiteOptions how;
  how.band = {result.hz[0], result.hz[result.hz.size() - 1]};
  how.points = options.points;
  how.anchor = NoAnchor{};
  const PadSite site(earphone, resistive_source(options.source_ohm), how);
  // Twice the series until the amplifier sees enough, then halving: the input rises with it.
  const auto input_ohm = [&](double series_ohm) {
    return site.input_min_ohm(two_port(pad_of_output(options.source_ohm, *allowed, series_ohm)));
  };
  double low = 0, high = 0;
  if (input_ohm(0) < result.min_ohm_after) {
    for (high = 1; input_ohm(high) < result.min_ohm_after; high *= 2)
      if (high > 1e9) return std::nullopt;
    for (int i = 0; i < 60; ++i)
      (input_ohm((low + high) / 2) < result.min_ohm_after ? low : high) = (low + high) / 2;
  }
  const Pad pad = pad_of_output(options.source_ohm, *allowed, high);
  const ResistiveTwoPort matrix = two_port(pad);
  return PadInstead{pad.ohm[0], pad.ohm[1], *allowed, site.attenuation_db(matrix),
                    site.input_min_ohm(matrix)};
}

double loss_db(const Earphone& earphone, const FlattenOptions& options, const Flattening& result) {
  const Array hz =
      Array::Constant(1, std::clamp(1000.0, result.hz[0], result.hz[result.hz.size() - 1]));
  const ComplexArray before = earphone.impedance.at(hz);
  const ComplexArray after = flattened_ohm(before, result.branches, hz);
  const TheveninSamples source{ComplexArray::Constant(1, options.source_ohm), {}};
  return (terminal_gain_db(source, before) - terminal_gain_db(source, after))[0];
}

void describe_over_source(const FlattenOptions& options, Flattening& result) {
  const TheveninSamples ideal{ComplexArray::Zero(result.hz.size()), {}};
  const SpanOverResistance before(result.before_ohm, ideal), after(result.after_ohm, ideal);
  result.source_ohm.resize(shown_sources);
  result.over_source_before_db.resize(shown_sources);
  result.over_source_after_db.resize(shown_sources);
  for (Eigen::Index i = 0; i < shown_sources; ++i) {
    const double ohm =
        options.source_ohm * std::pow(0.01, 1 - double(i) / double(shown_sources - 1));
    result.source_ohm[i] = ohm;
    result.over_source_before_db[i] = before.span_db(ohm);
    result.over_source_after_db[i] = after.span_db(ohm);
  }
}

}  // namespace

ComplexArray branch_ohm(const FlattenBranch& branch, const Array& hz) {
  const Array omega = 2 * std::numbers::pi * hz;
  Array reactance = Array::Zero(hz.size());
  if (branch.henry) reactance += *branch.henry * omega;
  if (branch.farad) reactance -= (*branch.farad * omega).inverse();
  ComplexArray ohm(hz.size());
  ohm.real() = Array::Constant(hz.size(), branch.ohm + branch.coil_ohm);
  ohm.imag() = reactance;
  return ohm;
}

ComplexArray flattened_ohm(const ComplexArray& load_ohm, const std::vector<FlattenBranch>& branches,
                           const Array& hz) {
  ComplexArray siemens = load_ohm.inverse();
  for (const auto& branch : branches) siemens += branch_ohm(branch, hz).inverse();
  return siemens.inverse();
}

double worst_span_db(const ComplexArray& load_ohm, double source_ohm) {
  const SpanOverResistance span(load_ohm, {ComplexArray::Zero(load_ohm.size()), {}});
  const auto sources = sources_up_to(source_ohm, load_ohm.abs().minCoeff());
  std::size_t worst = 0;
  for (std::size_t i = 1; i < sources.size(); ++i)
    if (span.span_db(sources[i]) > span.span_db(sources[worst])) worst = i;
  // Between the neighbours of the largest, whose ends count as well.
  const double above = sources[worst > 0 ? worst - 1 : 0];
  const double below = sources[std::min(worst + 1, sources.size() - 1)];
  const auto less = [&](double ln_ohm) { return -span.span_db(std::exp(ln_ohm)); };
  const double refined =
      -boost::math::tools::brent_find_minima(less, std::log(below), std::log(above), 30).second;
  return std::max(refined, span.span_db(sources[worst]));
}

Flattening flattening_of(const Earphone& earphone, std::vector<FlattenBranch> branches,
                         const FlattenOptions& options) {
  check(options);
  Flattening result;
  result.hz = log_grid(overlap(options.band, earphone.impedance.range()), options.points);
  result.branches = std::move(branches);
  result.before_ohm = earphone.impedance.at(result.hz);
  result.min_ohm_before = result.before_ohm.abs().minCoeff();
  result.least_ohm = options.least_ohm.value_or(result.min_ohm_before / 2);
  result.after_ohm = flattened_ohm(result.before_ohm, result.branches, result.hz);
  result.min_ohm_after = result.after_ohm.abs().minCoeff();
  result.extra_current_ratio = result.min_ohm_before / result.min_ohm_after;
  result.span_before_db = worst_span_db(result.before_ohm, options.source_ohm);
  result.span_after_db = worst_span_db(result.after_ohm, options.source_ohm);
  result.reached = result.span_after_db <= options.limit_db;
  result.loss_db = loss_db(earphone, options, result);
  result.variation_db = varied_span_db(options, result, earphone);
  result.tolerance_p95_db = toleranced_span_db(options, result);
  result.pad = pad_instead(earphone, options, result);
  result.pad_does_better = result.pad && result.pad->attenuation_db <= result.loss_db + 1;
  describe_over_source(options, result);
  return result;
}

Flattening flatten(const Earphone& earphone, const FlattenOptions& options) {
  check(options);
  const PartChoices parts = part_choices(options);
  if (parts.ohms.empty() && parts.coils.empty() && parts.farads.empty())
    throw InputError("there is no part to build a network from", "allow more of them");
  const Band band = overlap(options.band, earphone.impedance.range());
  FlattenGoal whole = goal_on(log_grid(band, options.points), earphone, options, parts);
  const double lowest = whole.load_ohm.abs().minCoeff();
  whole.least_ohm = options.least_ohm.value_or(lowest / 2);
  if (whole.least_ohm > lowest)
    throw InputError("the earphone itself falls to " + number_text(lowest) + " ohm, below the " +
                         number_text(whole.least_ohm) + " ohm asked for",
                     "ask for less");
  FlattenGoal coarse =
      goal_on(log_grid(band, std::min(search_points, options.points)), earphone, options, parts);
  // The whole grid may fall a little lower between the points of the search.
  coarse.least_ohm = std::min(whole.least_ohm * 1.002, lowest);
  return flattening_of(earphone, NetworkSearch(coarse, whole, parts, options).found(), options);
}

namespace {

/// From "tip" to "sleeve", with nodes of their own between.
void add_in_series(CircuitDraft& draft, std::vector<Part> parts, const std::string& number) {
  std::string node = "tip";
  for (std::size_t i = 0; i < parts.size(); ++i) {
    const bool last = i + 1 == parts.size();
    const std::string next = last ? "sleeve" : std::string(1, "ab"[i]) + number;
    parts[i].nodes = {node, next};
    node = next;
    draft.parts.push_back(std::move(parts[i]));
  }
}

}  // namespace

Circuit flatten_circuit(const std::vector<FlattenBranch>& branches, double tolerance_percent,
                        const std::string& title) {
  CircuitDraft draft;
  draft.title = title;
  draft.reference = "sleeve";
  draft.ports = {{"in", "tip", "sleeve"}, {"out", "tip", "sleeve"}};
  for (std::size_t i = 0; i < branches.size(); ++i) {
    const FlattenBranch& branch = branches[i];
    const std::string number = std::to_string(i + 1);
    std::vector<Part> parts;
    if (branch.ohm > 0 || (!branch.henry && !branch.farad))
      parts.push_back(resistor("R" + number, "", "", branch.ohm));
    if (branch.henry)
      parts.push_back(inductor("L" + number, "", "", *branch.henry, branch.coil_ohm));
    if (branch.farad) parts.push_back(capacitor("C" + number, "", "", *branch.farad));
    add_in_series(draft, std::move(parts), number);
  }
  for (auto& part : draft.parts) part.tolerance_percent = tolerance_percent;
  return Circuit(std::move(draft));
}

}  // namespace ohmtilt
