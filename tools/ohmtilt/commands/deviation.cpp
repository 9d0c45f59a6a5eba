// ohmtilt deviation: what another source does to an earphone's response.
#include <fmt/format.h>

#include <ohmtilt/analysis/deviation/deviation_changes.h>
#include <ohmtilt/analysis/tolerance/tolerance.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/chain/earphone.h>
#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/curve/read_curve.h>
#include <ohmtilt/hearing/third_octave.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <plots/figures/schematic.h>
#include <tools/ohmtilt/commands/deviation.h>
#include <tools/ohmtilt/program/chain_input.h>
#include <tools/ohmtilt/program/command.h>
#include <tools/ohmtilt/program/input_lists.h>
#include <tools/ohmtilt/program/tolerance_options.h>
#include <tools/ohmtilt/program/wording.h>
#include <algorithm>
#include <cmath>
#include <memory>

namespace ohmtilt::cli {
namespace {

struct DeviationCommand {
  std::string earphone;
  std::string from = "0";
  std::vector<std::string> to;
  GridOptions grid;
  std::optional<std::string> response;
  std::optional<double> limit_db;    // exit 1 beyond it
  std::optional<double> largest_db;  // only the inverse answer
  bool third_octaves = false;
  bool sensitivity = false;
  ToleranceFlags tolerance;
  OutputOptions output;
};

/// What the tolerances do to each case; nothing where no part has any.
struct Tolerances {
  ToleranceOptions draws;
  std::vector<std::optional<DeviationTolerance>> cases;  ///< empty when it was not asked
  std::vector<std::optional<DeviationWorstCase>> worst;  ///< empty when it was not asked
  bool asked() const { return !cases.empty(); }
};

/// Of --sensitivity: for each case what 1 % more of each value does; empty when it was not asked.
using CaseChanges = std::vector<std::vector<DeviationChange>>;
constexpr std::size_t listed_changes = 12;

// ---- the answer as JSON ------------------------------------------------------------------------

Json earphone_json(const Earphone& earphone, const Comparison& comparison) {
  const Array hz = earphone.curve ? earphone.curve->frequency_hz() : comparison.grid.grid_hz;
  const Array ohm =
      earphone.curve ? earphone.curve->magnitude_ohm() : Array(comparison.load_ohm.abs());
  Eigen::Index lowest = 0;
  Eigen::Index highest = 0;
  const double min_ohm = ohm.minCoeff(&lowest);
  const double max_ohm = ohm.maxCoeff(&highest);
  return {{"title", earphone.title},
          {"points", hz.size()},
          {"min_ohm", min_ohm},
          {"min_hz", hz[lowest]},
          {"max_ohm", max_ohm},
          {"max_hz", hz[highest]},
          {"phase", to_string(earphone.phase)}};
}

Json chain_json(const std::optional<ChainFigures>& chain) {
  if (!chain) return nullptr;
  return {{"loss_db", chain->loss_db},
          {"rated_loss_db", json_number(chain->rated_loss_db)},
          {"output_real_ohm", json_array(chain->output_ohm.real())},
          {"output_imag_ohm", json_array(chain->output_ohm.imag())}};
}

Json tolerance_json(const Tolerances& tolerances, std::size_t at) {
  const auto& found = tolerances.cases[at];
  if (!found) return nullptr;
  Json json{{"samples", tolerances.draws.samples},
            {"seed", tolerances.draws.seed},
            {"p05_db", json_array(found->deviation_db.p05)},
            {"p50_db", json_array(found->deviation_db.p50)},
            {"p95_db", json_array(found->deviation_db.p95)},
            {"channel_difference_db", json_array(found->channel_difference_db)}};
  if (found->channel_difference_unmatched_db.size() > 0)
    json["channel_difference_unmatched_db"] = json_array(found->channel_difference_unmatched_db);
  if (tolerances.worst.empty() || !tolerances.worst[at]) return json;
  const DeviationWorstCase& worst = *tolerances.worst[at];
  json["worst_case"] = {{"lowest_db", json_array(worst.deviation_db.lowest)},
                        {"highest_db", json_array(worst.deviation_db.highest)},
                        {"channel_difference_db", json_array(worst.channel_difference_db)},
                        {"all_corners", worst.reach.all_corners},
                        {"inside_further", worst.reach.inside_further}};
  return json;
}

/// What the curve leaves open; a circuit's values are taken as they are.
void add_interval(const ComparedSource& compared, Json& json) {
  const Array& deviation_db = compared.deviation.deviation_db;
  const auto& interval = compared.interval;
  json["lower_95_db"] = json_array(interval ? interval->lower_95_db : deviation_db);
  json["upper_95_db"] = json_array(interval ? interval->upper_95_db : deviation_db);
  json["whole_95_db"] = interval ? interval->whole_95_db : 0;
  json["hidden_q"] = interval ? json_number(interval->hidden_q) : Json(nullptr);
  json["parts_95_db"] = nullptr;
  if (!interval) return;
  const IntervalParts& parts = interval->parts;
  json["parts_95_db"] = {{"interpolation", json_array(parts.interpolation_db)},
                         {"noise", json_array(parts.noise_db)},
                         {"missing_phase", json_array(parts.missing_phase_db)},
                         {"band_ends", json_array(parts.band_ends_db)},
                         {"rounding", json_array(parts.rounding_db)},
                         {"stated", json_array(parts.stated_db)},
                         {"scale", json_array(parts.scale_db)}};
}

Json case_json(const ComparedSource& compared) {
  const Deviation& d = compared.deviation;
  Json json{{"label", compared.label},
            {"output_ohm", compared.output_ohm},
            {"level_change_db", d.level_change_db},
            {"rise", extreme_json(d.rise)},
            {"fall", extreme_json(d.fall)},
            {"span_db", d.span_db},
            {"rms_db", d.rms_db},
            {"erb_span_db", d.erb_span_db},
            {"bound_db", json_number(d.bound_db)},
            {"deviation_db", json_array(d.deviation_db)},
            {"band_lower_db", compared.band ? json_array(compared.band->lower_db) : Json(nullptr)},
            {"band_upper_db", compared.band ? json_array(compared.band->upper_db) : Json(nullptr)},
            {"chain", chain_json(compared.chain)}};
  add_interval(compared, json);
  if (compared.response_db.size() > 0) json["response_db"] = json_array(compared.response_db);
  return json;
}

Json changes_json(const std::vector<DeviationChange>& changes) {
  Json all = Json::array();
  for (const auto& one : changes)
    all.push_back({{"of", to_string(one.of)},
                   {"part", valid_utf8(one.changed.part)},
                   {"quantity", one.changed.quantity},
                   {"percent", one.changed.percent},
                   {"span_db", one.span_db},
                   {"peak_db", one.peak_db},
                   {"peak_hz", one.peak_hz},
                   {"deviation_db", json_array(one.deviation_db)}});
  return all;
}

Json comparison_json(const Earphone& earphone, const Comparison& comparison,
                     const Tolerances& tolerances, const CaseChanges& changes) {
  Json json{{"earphone", earphone_json(earphone, comparison)},
            {"reference_hz", anchor_json(comparison.grid.anchor)},
            {"from", {{"label", comparison.from_label}, {"output_ohm", comparison.from_ohm}}},
            {"frequency_hz", json_array(comparison.grid.grid_hz)},
            {"cases", Json::array()},
            {"largest_source", nullptr}};
  for (std::size_t i = 0; i < comparison.cases.size(); ++i) {
    json["cases"].push_back(case_json(comparison.cases[i]));
    if (tolerances.asked()) json["cases"].back()["tolerance"] = tolerance_json(tolerances, i);
    if (!changes.empty()) json["cases"].back()["changes"] = changes_json(changes[i]);
  }
  if (comparison.response_before_db.size() > 0)
    json["response_before_db"] = json_array(comparison.response_before_db);
  if (const auto& largest = comparison.largest_source)
    json["largest_source"] = {{"limit_db", largest->limit_db}, {"ohm", json_number(largest->ohm)}};
  return json;
}

// ---- the answer as text ------------------------------------------------------------------------

}  // namespace

Rows band_rows(const Comparison& comparison, bool third_octaves) {
  const Array& hz = comparison.grid.grid_hz;
  Rows rows{{"Hz"}};
  std::vector<std::string> labels;
  for (const auto& compared : comparison.cases) labels.push_back(compared.short_label);
  for (const auto& name : short_names(labels, 32)) rows.push_back({name + ", dB"});
  for (const auto& band : third_octaves ? ohmtilt::third_octaves() : octaves()) {
    const Band within{std::max(band.edges.low_hz, hz[0]),
                      std::min(band.edges.high_hz, hz[hz.size() - 1])};
    if (!(within.low_hz < within.high_hz)) continue;
    rows[0].push_back(short_hz(band.nominal_hz));
    const Array inside = log_grid(within, 16);
    for (std::size_t i = 0; i < comparison.cases.size(); ++i) {
      const LogInterpolator curve(hz, comparison.cases[i].deviation.deviation_db);
      const double mean = mean_over_ln_f(inside, curve.at(inside));
      rows[i + 1].push_back(std::abs(mean) < 0.05 ? "0.0" : fmt::format("{:+.1f}", mean));
    }
  }
  return rows;
}

namespace {

void add_chain_rows(const Comparison& comparison, const ComparedSource& compared, Rows& rows) {
  const std::string at = "at " + hz_text(comparison.reference_hz);
  rows.push_back({"output impedance of the chain", ohm_text(compared.output_ohm), at});
  rows.push_back(
      {"insertion gain (from the unloaded amplifier)", signed_db(compared.chain->loss_db), at});
  if (compared.chain->rated_loss_db)
    rows.push_back(
        {"insertion gain into the rated impedance", signed_db(*compared.chain->rated_loss_db), at});
}

/// Whether the worst case is one that an earphone comes near: beyond this a load would have to
/// resonate with the source.
bool has_bound(const Deviation& d) { return d.bound_db < 60; }

}  // namespace

Rows case_rows(const Comparison& comparison, const ComparedSource& compared) {
  const Deviation& d = compared.deviation;
  Rows rows;
  if (comparison.grid.anchor_hz.size() > 0)
    rows.push_back(
        {"level change " + anchor_place(comparison.grid.anchor), signed_db(d.level_change_db)});
  const auto extreme_row = [&](const char* name, const Extreme& extreme) {
    rows.push_back({name});
    for (auto& cell : extreme_cells(extreme)) rows.back().push_back(std::move(cell));
  };
  extreme_row(d.rise.db <= -least_said_db ? "smallest fall" : "largest rise", d.rise);
  extreme_row(d.fall.db >= least_said_db ? "smallest rise" : "largest fall", d.fall);
  rows.push_back({"span (largest minus smallest deviation)", db_text(d.span_db)});
  rows.push_back({"span after smoothing over 1 ERB", db_text(d.erb_span_db)});
  rows.push_back({"rms over log frequency", db_text(d.rms_db)});
  if (has_bound(d))
    rows.push_back({"worst case, |Z| of any phase from " +
                        ohm_text(comparison.load_ohm.abs().minCoeff()) + " up",
                    db_text(d.bound_db)});
  if (compared.chain) add_chain_rows(comparison, compared, rows);
  return rows;
}

namespace {

std::string case_text(const Comparison& comparison, const ComparedSource& compared) {
  return fmt::format("{} instead of {}\n{}\n{}", compared.label, comparison.from_label,
                     conclusion(compared), "") +
         aligned(case_rows(comparison, compared));
}

}  // namespace

std::string hidden_text(const std::optional<double>& hidden_q) {
  if (!hidden_q) return "";
  return fmt::format("A resonance of a Q above {} could lie between its points unseen.\n",
                     significant(*hidden_q, *hidden_q < 10 ? 1 : 2));
}

std::string uncertainty_text(const ComparedSource& compared) {
  if (!compared.interval) return "";
  const std::vector<IntervalCause> from = causes(compared.interval->parts);
  std::string text = fmt::format("Uncertainty from the curve (95 %, the whole deviation): {}",
                                 plus_minus_db(compared.interval->whole_95_db));
  const std::string hidden = hidden_text(compared.interval->hidden_q);
  if (from[0].most_db < 0.01) return text + ".\n" + hidden;
  text += fmt::format(", most of it from {}", from[0].name);
  if (from[1].most_db > 0.5 * from[0].most_db) text += fmt::format(" and {}", from[1].name);
  return text + ".\n" + hidden;
}

namespace {

std::string worst_text(const Tolerances& tolerances, std::size_t at) {
  if (tolerances.worst.empty() || !tolerances.worst[at]) return "";
  const DeviationWorstCase& worst = *tolerances.worst[at];
  return fmt::format(
      "At worst the deviation lies from {} to {} and the "
      "channels differ by {}; {}.\n",
      signed_db(worst.deviation_db.lowest.minCoeff()),
      signed_db(worst.deviation_db.highest.maxCoeff()),
      db_text(worst.channel_difference_db.maxCoeff()), reach_text(worst.reach));
}

std::string tolerance_text(const Tolerances& tolerances, std::size_t at) {
  if (!tolerances.asked()) return "";
  if (!tolerances.cases[at]) return "No part of it has a tolerance.\n";
  const DeviationTolerance& found = *tolerances.cases[at];
  const Array& unmatched = found.channel_difference_unmatched_db;
  return fmt::format(
             "With the tolerances of the parts the span is {:.2f} to "
             "{:.2f} dB (90 %), and the two "
             "channels\ndiffer by at most {} (95 %){}; {}.\n",
             found.span_db.p05, found.span_db.p95, db_text(found.channel_difference_db.maxCoeff()),
             unmatched.size() > 0
                 ? ", by " + db_text(unmatched.maxCoeff()) + " if their groups were not matched"
                 : "",
             draws_text(tolerances.draws)) +
         worst_text(tolerances, at);
}

}  // namespace

std::string largest_source_text(const Comparison& comparison) {
  const LargestSource& largest = *comparison.largest_source;
  const std::string limit = number_text(largest.limit_db) + " dB";
  if (largest.ohm)
    return fmt::format("Every resistive source from {} up to {} keeps the span within {}.",
                       ohm_text(comparison.from_ohm),
                       highest_ohm_text(*largest.ohm, comparison.from_ohm), limit);
  if (largest.start_exceeds)
    return fmt::format("No resistive source keeps the span within {}: {} already exceeds it.",
                       limit, comparison.from_label);
  return fmt::format("Every resistive source up to 1 Mohm keeps the span within {}.", limit);
}

namespace {

std::string comparison_text(const Earphone& earphone, const Comparison& comparison,
                            bool third_octaves, const Tolerances& tolerances) {
  const Array ohm = comparison.load_ohm.abs();
  std::string text =
      fmt::format("{}: {} to {}, {}; both responses {}\n\n", printable(earphone.title),
                  ohm_text(ohm.minCoeff()), ohm_text(ohm.maxCoeff()), phase_text(earphone.phase),
                  anchor_text(comparison.grid.anchor));
  for (std::size_t i = 0; i < comparison.cases.size(); ++i)
    text += case_text(comparison, comparison.cases[i]) + uncertainty_text(comparison.cases[i]) +
            tolerance_text(tolerances, i) + "\n";
  if (!comparison.cases.empty())
    text += fmt::format("{}\n\nMean deviation over each {}\n{}\n", verdict_note(),
                        third_octaves ? "third-octave" : "octave",
                        aligned(band_rows(comparison, third_octaves)));
  if (comparison.largest_source) text += largest_source_text(comparison) + "\n";
  return text;
}

// ---- files and figure --------------------------------------------------------------------------

void add_tolerance_columns(const DeviationTolerance& found, const std::string& number,
                           CsvTable& table) {
  table.add("p05_db" + number, found.deviation_db.p05);
  table.add("p50_db" + number, found.deviation_db.p50);
  table.add("p95_db" + number, found.deviation_db.p95);
  table.add("channel_difference_db" + number, found.channel_difference_db);
  if (found.channel_difference_unmatched_db.size() > 0)
    table.add("channel_difference_unmatched_db" + number, found.channel_difference_unmatched_db);
}

void add_worst_columns(const DeviationWorstCase& worst, const std::string& number,
                       CsvTable& table) {
  table.add("lowest_db" + number, worst.deviation_db.lowest);
  table.add("highest_db" + number, worst.deviation_db.highest);
  table.add("worst_channel_difference_db" + number, worst.channel_difference_db);
}

CsvTable comparison_csv(const Comparison& comparison, const Tolerances& tolerances) {
  CsvTable table;
  table.add("frequency_hz", comparison.grid.grid_hz);
  if (comparison.response_before_db.size() > 0)
    table.add("response_before_db", comparison.response_before_db);
  for (std::size_t i = 0; i < comparison.cases.size(); ++i) {
    const auto& compared = comparison.cases[i];
    const std::string number = "_" + std::to_string(i + 1);
    table.add("deviation_db" + number, compared.deviation.deviation_db);
    if (compared.band) table.add("band_lower_db" + number, compared.band->lower_db);
    if (compared.band) table.add("band_upper_db" + number, compared.band->upper_db);
    if (compared.interval) table.add("lower_95_db" + number, compared.interval->lower_95_db);
    if (compared.interval) table.add("upper_95_db" + number, compared.interval->upper_95_db);
    if (compared.response_db.size() > 0) table.add("response_db" + number, compared.response_db);
    if (tolerances.asked() && tolerances.cases[i])
      add_tolerance_columns(*tolerances.cases[i], number, table);
    if (!tolerances.worst.empty() && tolerances.worst[i])
      add_worst_columns(*tolerances.worst[i], number, table);
  }
  return table;
}

/// Bands of the tolerances in place of those of an unknown phase.
void show_tolerances(const Tolerances& tolerances, plots::DeviationFigure& figure) {
  if (!tolerances.asked()) return;
  figure.band_meaning = "tolerances, 5 % to 95 %";
  figure.caption += "; tolerances: " + draws_text(tolerances.draws);
  for (std::size_t i = 0; i < figure.curves.size(); ++i) {
    const auto& found = tolerances.cases[i];
    figure.curves[i].band_lower_db = found ? found->deviation_db.p05 : Array();
    figure.curves[i].band_upper_db = found ? found->deviation_db.p95 : Array();
  }
}

/// Whether the interval is wider than a line.
bool is_seen(const ComparedSource& compared) {
  constexpr double visible_share = 0.01;  // of the span
  if (!compared.interval) return false;
  const double widest =
      (compared.interval->upper_95_db - compared.interval->lower_95_db).maxCoeff();
  return widest > 2 * visible_share * compared.deviation.span_db;
}

}  // namespace

plots::DeviationFigure figure_of(const Earphone& earphone, const Comparison& comparison) {
  plots::DeviationFigure figure;
  figure.earphone_title = earphone.title;
  figure.from_label = comparison.from_label;
  figure.conclusion = headline(comparison.from_label, comparison.cases);
  figure.caption = fmt::format("Deviation from {}; both responses {}", comparison.from_label,
                               anchor_text(comparison.grid.anchor));
  figure.frequency_hz = comparison.grid.grid_hz;
  if (const auto* one = std::get_if<AnchorFrequency>(&comparison.grid.anchor))
    figure.anchor_low_hz = figure.anchor_high_hz = one->hz;
  if (const auto* band = std::get_if<AnchorBand>(&comparison.grid.anchor)) {
    figure.anchor_low_hz = band->low_hz;
    figure.anchor_high_hz = band->high_hz;
  }
  for (const auto& compared : comparison.cases) {
    plots::DeviationCurve curve{compared.short_label, compared.deviation.deviation_db, {}, {}};
    if (is_seen(compared)) {
      curve.band_lower_db = compared.interval->lower_95_db;
      curve.band_upper_db = compared.interval->upper_95_db;
    }
    figure.curves.push_back(std::move(curve));
    if (compared.response_db.size() > 0) figure.response_after_db.push_back(compared.response_db);
  }
  figure.magnitude_ohm = comparison.load_ohm.abs();
  figure.phase_deg = unwrapped_deg(comparison.load_ohm.arg() / degree);
  figure.phase_is_minimum = earphone.phase == PhaseOrigin::minimum;
  figure.response_before_db = comparison.response_before_db;
  return figure;
}

// ---- the command -------------------------------------------------------------------------------

namespace {

std::optional<double> limit_of(const DeviationCommand& options) {
  if (options.limit_db && options.largest_db && *options.limit_db != *options.largest_db)
    throw InputError("--limit-db and --largest-source ask for two different limits",
                     "give one of them");
  const auto limit = options.limit_db ? options.limit_db : options.largest_db;
  if (limit && !(*limit > 0 && std::isfinite(*limit)))
    throw InputError("a limit of " + number_text(*limit) + " dB is not allowed",
                     "give a positive number of decibels");
  return limit;
}

CaseChanges changes_of(const DeviationCommand& options, const Earphone& earphone,
                       const TheveninSource& from, const std::vector<TheveninSource>& to,
                       const DeviationGrid& grid) {
  CaseChanges changes;
  if (!options.sensitivity) return changes;
  for (const auto& source : to) changes.push_back(deviation_changes(grid, earphone, from, source));
  return changes;
}

/// "stage 1: pad.series, ohm"; whose it is stands before it.
std::string changed_text(const DeviationChange& change, const char* earphone = "earphone: ") {
  const char* whose = change.of == ChangeOf::earphone ? earphone
                      : change.of == ChangeOf::from   ? "from: "
                                                      : "to: ";
  return whose + printable(change.changed.part, 40) + ", " + change.changed.quantity +
         (change.changed.percent < 0 ? " (1 % less)" : "");
}

std::string changes_text(const ComparedSource& compared,
                         const std::vector<DeviationChange>& changes) {
  if (changes.empty()) return "";
  Rows rows{{"1 % more of", "span", "deviation", ""}};
  for (const auto& one : changes) {
    if (rows.size() > listed_changes) break;
    rows.push_back({changed_text(one), fmt::format("{:+.4f} dB", one.span_db),
                    fmt::format("{:+.4f} dB", one.peak_db), "at " + hz_text(one.peak_hz)});
  }
  return fmt::format(
             "\nWhat matters with {}: each value by itself, largest change over frequency\n",
             printable(compared.label)) +
         aligned(rows);
}

void add_change_columns(const CaseChanges& changes, CsvTable& table) {
  for (std::size_t i = 0; i < changes.size(); ++i)
    for (const auto& one : changes[i])
      table.add("change_db_" + std::to_string(i + 1) + "_" + to_string(one.of) + "_" +
                    one.changed.part + "." + one.changed.quantity,
                one.deviation_db);
}

/// Those of the first case that change the deviation most anywhere.
void show_changes(const Comparison& comparison, const CaseChanges& changes,
                  plots::DeviationFigure& figure) {
  if (changes.empty()) return;
  std::vector<DeviationChange> most = changes.front();
  std::stable_sort(most.begin(), most.end(), [](const auto& a, const auto& b) {
    return std::abs(a.peak_db) > std::abs(b.peak_db);
  });
  for (std::size_t i = 0; i < std::min(drawn_changes, most.size()); ++i)
    figure.changes.push_back({short_name(changed_text(most[i], ""), 28), most[i].deviation_db});
  if (comparison.cases.size() > 1) figure.changes_remark = "with " + comparison.cases[0].label;
}

Tolerances tolerances_of(const DeviationCommand& options, const Session& session,
                         const Earphone& earphone, const TheveninSource& from,
                         const std::vector<TheveninSource>& to, const DeviationGrid& grid) {
  Tolerances result;
  if (!options.tolerance.asked) return result;
  result.draws = with_progress(options.tolerance, session);
  const bool earphone_varies = earphone.circuit && has_tolerances(*earphone.circuit, result.draws);
  TolerancedComparison one{grid, {}, {}, from, from};
  if (earphone_varies)
    one.circuit = earphone.circuit;
  else
    one.load_ohm = earphone.impedance.at(grid.all_hz());
  bool any = false;
  for (const auto& source : to) {
    one.to = source;
    const bool varies = earphone_varies || has_tolerances(from, result.draws) ||
                        has_tolerances(source, result.draws);
    any = any || varies;
    result.cases.push_back(varies ? std::optional(deviation_tolerance(one, result.draws))
                                  : std::nullopt);
    if (options.tolerance.worst_case)
      result.worst.push_back(varies ? std::optional(deviation_worst_case(one, result.draws))
                                    : std::nullopt);
  }
  if (!any)
    throw InputError("--tolerance: no part has a tolerance",
                     "give pads in chain files or parts in circuit files a tolerance_percent");
  return result;
}

/// A switch that raises the level by this much halves the time that NIOSH (1998) allows.
constexpr double cautioned_rise_db = 3;

/// How much louder it plays: at the anchor, or without one on average over ln f.
double level_rise_db(const DeviationGrid& grid, const Deviation& d) {
  if (grid.anchor_hz.size() > 0) return d.level_change_db;
  return mean_over_ln_f(grid.grid_hz, d.deviation_db);
}

void caution_of_level(const Comparison& comparison, Answer& answer) {
  for (const auto& compared : comparison.cases) {
    const double rise_db = level_rise_db(comparison.grid, compared.deviation);
    if (rise_db >= cautioned_rise_db)
      answer.cautions.push_back(fmt::format(
          "switching from {} to {} raises the level by {}: turn the volume down first (every 3 dB "
          "more halve the listening time, NIOSH 1998)",
          printable(comparison.from_label), printable(compared.label), db_text(rise_db)));
  }
}

/// "The span of 2.05 dB exceeds the limit of 1 dB." of each case that does.
void check_limit(const Comparison& comparison, double limit_db, Answer& answer) {
  for (const auto& compared : comparison.cases) {
    if (!(compared.deviation.span_db > limit_db)) continue;
    answer.limit_exceeded = true;
    const std::string of = comparison.cases.size() > 1
                               ? "With " + printable(compared.label) + " the span"
                               : "The span";
    answer.text += exceeds_text(of, compared.deviation.span_db, limit_db) + ".\n";
  }
}

/// The chain that --draw draws: the first one to compare with, or the one to compare from.
std::shared_ptr<const Chain> drawn_chain(const DeviationCommand& options,
                                         const TheveninSource& from,
                                         const std::vector<TheveninSource>& to) {
  if (options.output.schematic.empty()) return nullptr;
  for (const auto& source : to)
    if (source.chain) return source.chain;
  if (from.chain) return from.chain;
  throw InputError("--draw: none of the sources is a chain file",
                   "give one to --to, or leave out --draw");
}

Answer answer(const DeviationCommand& options, const Session& session) {
  if (options.to.empty() && !options.largest_db)
    throw InputError("there is no source to compare with",
                     "give --to 6, or --largest-source 1 for the inverse answer");
  if (options.to.empty() && (options.output.show || !options.output.plot.empty()))
    throw InputError("there is no deviation to draw without a source", "give --to as well");
  const Earphone earphone = read_earphone(options.earphone);
  const auto [from, to] = read_compared(options.from, read_sources(options.to, "--to"));
  std::optional<ResponseCurve> response;
  std::vector<std::string> response_warnings;
  if (options.response) {
    auto read = read_response(*options.response);
    response = std::move(read.value);
    response_warnings = std::move(read.warnings);
  }
  const ComparisonOptions how{options.grid.band, options.grid.points, options.grid.anchor,
                              limit_of(options)};
  const auto comparison =
      std::make_shared<const Comparison>(compare_sources(earphone, from, to, how, response));
  const auto chain = drawn_chain(options, from, to);
  const Tolerances tolerances =
      tolerances_of(options, session, earphone, from, to, comparison->grid);

  const CaseChanges changes = changes_of(options, earphone, from, to, comparison->grid);

  Answer result;
  result.text = comparison_text(earphone, *comparison, options.third_octaves, tolerances);
  for (std::size_t i = 0; i < changes.size(); ++i)
    result.text += changes_text(comparison->cases[i], changes[i]);
  result.json = comparison_json(earphone, *comparison, tolerances, changes);
  result.warnings = comparison->warnings;
  result.warnings.insert(result.warnings.end(), response_warnings.begin(), response_warnings.end());
  result.csv = comparison_csv(*comparison, tolerances);
  add_change_columns(changes, result.csv);
  result.draw = [earphone, comparison, tolerances, changes](const plots::Output& output) {
    plots::DeviationFigure figure = figure_of(earphone, *comparison);
    show_tolerances(tolerances, figure);
    show_changes(*comparison, changes, figure);
    plots::draw(figure, output);
  };
  result.draw_schematic = [chain](const plots::Output& output) {
    plots::draw(plots::schematic(*chain), output);
  };
  std::vector<TheveninSource> sources{from};
  sources.insert(sources.end(), to.begin(), to.end());
  add_bias_cautions(result, sources, earphone);
  caution_of_level(*comparison, result);
  if (options.limit_db) check_limit(*comparison, *options.limit_db, result);
  return result;
}

}  // namespace

void add_deviation(Command& program, Session& session) {
  auto options = std::make_shared<DeviationCommand>();
  Command& command = *program.add_subcommand(
      "deviation",
      "What another source does to an earphone's response: how much, where, whether it matters");
  command.footer(
      "Example:  ohmtilt deviation impedance-curves/two-way-armature.csv --from 0.3 --to 6 --plot "
      "deviation.svg\n"
      "An earphone is a curve, a circuit or an earphone file. A source is a number of ohms, an IEC "
      "60062 code (6R0, R30), a curve file of a measured output impedance, or a chain file.\n"
      "Verdict by common practice, no source: a span below 0.3 dB is probably inaudible, below 1 "
      "dB "
      "just audible in direct comparison, below 3 dB a change of tonal balance.\n"
      "The uncertainty (95 %) is what a curve's gaps, noise, digits, missing phase and own stated "
      "uncertainty leave open; the light band shows it at each frequency.");
  add_earphone_argument(command, options->earphone);
  add_from_option(command, options->from);
  add_to_option(command, options->to);
  add_grid_options(command, options->grid);
  add_anchor_option(command, options->grid);
  command
      .add_option("--response", options->response,
                  "the earphone's response with the first source, to draw before and after [the "
                  "earphone file's own]")
      ->type_name("FILE");
  add_limit_option(
      command, options->limit_db,
      "exit with 1 if a span exceeds this many dB; also names the highest output impedance within "
      "it");
  command.add_number(
      "--largest-source", options->largest_db, {.unit = "DB", .least = 0, .inside = true},
      "the highest output impedance, a resistance, that keeps the span within this many dB");
  command.add_flag("--third-octaves", options->third_octaves,
                   "table by third-octaves instead of octaves");
  command.add_flag("--sensitivity", options->sensitivity,
                   "what 1 % more of each value of the sources and of the earphone changes of the "
                   "deviation and its span");
  add_tolerance_options(command, options->tolerance);
  add_worst_case_option(command, options->tolerance);
  add_output_options(command, options->output);
  add_schematic_option(command, options->output,
                       "of the first chain among --to, or else of that of --from,");
  command.callback([options, &session] {
    respond(session, options->output, "deviation", [&] { return answer(*options, session); });
  });
}

}  // namespace ohmtilt::cli
