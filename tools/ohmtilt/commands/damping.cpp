// ohmtilt damping: how the source changes the Q and the decay of every resonance.
#include <fmt/format.h>

#include <ohmtilt/base/constants.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/commands/damping.h>
#include <tools/ohmtilt/program/chain_input.h>
#include <tools/ohmtilt/program/command.h>
#include <tools/ohmtilt/program/input_lists.h>
#include <tools/ohmtilt/program/wording.h>
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <memory>

namespace ohmtilt::cli {
namespace {

struct DampingCommand {
  std::string earphone;
  std::string from = "0";
  std::vector<std::string> to;
  GridOptions grid;
  std::optional<double> burst_hz;
  int cycles = 8;
  std::optional<double> limit_q_percent;
  OutputOptions output;
};

// ---- the answer as JSON ------------------------------------------------------------------------

Json at_json(const DampingCondition& condition, const std::optional<PairMode>& at) {
  const auto number = [&](double PairMode::*field) {
    return at ? json_number((*at).*field) : Json(nullptr);
  };
  return {{"source_ohm", json_number(condition.source_ohm)},
          {"hz", number(&PairMode::hz)},
          {"q", number(&PairMode::q)},
          {"decay_20_db_ms", number(&PairMode::decay_20_db_ms)},
          {"decay_60_db_ms", number(&PairMode::decay_60_db_ms)}};
}

Json resonances_json(const Damping& damping) {
  Json modes = Json::array();
  for (const auto& mode : damping.modes) {
    Json at = Json::array();
    for (std::size_t i = 0; i < mode.at.size(); ++i)
      at.push_back(at_json(damping.conditions[i], mode.at[i]));
    modes.push_back({{"name", mode.name ? Json(*mode.name) : Json(nullptr)},
                     {"hz", mode.hz},
                     {"at", std::move(at)}});
  }
  return modes;
}

Json driver_json(const Damping& damping) {
  if (damping.driver.empty()) return nullptr;
  Json list = Json::array();
  for (const DriverQ& q : damping.driver)
    list.push_back(
        {{"source_ohm", q.source_ohm}, {"q_electrical", q.q_electrical}, {"q_total", q.q_total}});
  return list;
}

Json factors_json(const Damping& damping) {
  Json list = Json::array();
  for (const DampingFactor& factor : damping.factors)
    list.push_back(
        {{"source_ohm", factor.source_ohm},
         {"ratio", json_array(factor.ratio)},
         {"ratio_with_coil",
          factor.ratio_with_coil.size() > 0 ? json_array(factor.ratio_with_coil) : Json(nullptr)},
         {"rated", json_number(factor.rated)}});
  return list;
}

Json burst_json(const Damping& damping) {
  Json cases = Json::array();
  for (const SourceBurst& burst : damping.bursts) {
    Json motional = Json::array();
    for (const auto& [driver, response] : burst.motional)
      motional.push_back({{"driver", valid_utf8(driver)},
                          {"volt", json_array(response.volt)},
                          {"envelope_volt", json_array(response.envelope_volt)}});
    cases.push_back({{"label", burst.label},
                     {"terminal_volt", json_array(burst.terminal.volt)},
                     {"envelope_volt", json_array(burst.terminal.envelope_volt)},
                     {"motional", std::move(motional)}});
  }
  return {{"hz", damping.burst.hz},
          {"cycles", damping.burst.cycles},
          {"time_ms", json_array(1000 * damping.burst_grid.time_s())},
          {"cases", std::move(cases)}};
}

Json step_json(const Damping& damping) {
  Json cases = Json::array();
  for (const SourceStep& step : damping.steps)
    cases.push_back({{"label", step.label}, {"terminal_volt", json_array(step.terminal_volt)}});
  return {{"time_ms", json_array(1000 * damping.step_grid.time_s())}, {"cases", std::move(cases)}};
}

Json damping_json(const DampingFound& result) {
  const Damping& damping = result.damping;
  Json json{{"earphone", {{"title", result.earphone.title}}},
            {"sources", Json::array()},
            {"resonances", resonances_json(damping)},
            {"driver", driver_json(damping)},
            {"frequency_hz", json_array(damping.frequency_hz)},
            {"damping_factor", factors_json(damping)},
            {"burst", burst_json(damping)},
            {"step", step_json(damping)},
            {"largest_source", nullptr},
            {"model_error_percent", json_number(result.earphone.error_percent)}};
  for (const auto& source : result.sources)
    json["sources"].push_back({{"label", source.label}, {"output_ohm", source.output_ohm}});
  if (const auto& limit = damping.limit)
    json["largest_source"] = {{"limit_q_percent", limit->limit_percent},
                              {"ohm", json_number(limit->largest_ohm)}};
  return json;
}

// ---- the answer as text ------------------------------------------------------------------------

std::string mode_label(const DampedMode& mode) {
  const std::string hz = hz_text(mode.hz);
  return mode.name ? fmt::format("{}, {}", printable(*mode.name, 60), hz) : hz;
}

/// "the resonance of bass at 210 Hz".
std::string resonance_text(const DampedMode& mode) {
  return mode.name
             ? fmt::format("the resonance of {} at {}", printable(*mode.name, 60), hz_text(mode.hz))
             : "the resonance at " + hz_text(mode.hz);
}

std::string figures(double value) {
  return std::isfinite(value) ? fmt::format("{:.3g}", value) : "none";
}

using Field = double PairMode::*;

/// Of a table's columns or rows, and of lines in a figure.
constexpr double name_columns = 24;

std::vector<std::string> condition_names(const Damping& damping) {
  std::vector<std::string> labels;
  for (const auto& condition : damping.conditions) labels.push_back(condition.short_label);
  return short_names(labels, name_columns);
}

std::vector<std::string> source_names(const DampingFound& result) {
  std::vector<std::string> labels;
  for (const auto& source : result.sources) labels.push_back(source.short_label);
  return short_names(labels, name_columns);
}

Rows mode_rows(const Damping& damping, const std::string& heading, Field field) {
  Rows rows{{heading}};
  for (const auto& name : condition_names(damping)) rows[0].push_back(name);
  for (const auto& mode : damping.modes) {
    rows.push_back({mode_label(mode)});
    for (const auto& at : mode.at) rows.back().push_back(at ? figures((*at).*field) : "-");
  }
  return rows;
}

/// The resonance at the first source and at the one of the others where its Q differs most.
struct Change {
  std::size_t to_source = 0;
  PairMode from, to;
  double percent() const { return 100 * (to.q / from.q - 1); }
};

std::optional<Change> change_of(const DampedMode& mode, const DampingFound& result) {
  const auto& condition = result.damping.condition_of_source;
  const auto& from = mode.at[condition[0]];
  std::optional<Change> largest;
  for (std::size_t i = 1; i < result.sources.size(); ++i) {
    const auto& to = mode.at[condition[i]];
    if (!from || !to || !std::isfinite(from->q) || !std::isfinite(to->q)) continue;
    const Change change{i, *from, *to};
    if (!largest || std::abs(change.percent()) > std::abs(largest->percent())) largest = change;
  }
  return largest;
}

std::optional<Change> largest_change(const DampingFound& result) {
  const Damping& damping = result.damping;
  if (!damping.most_changed) return std::nullopt;
  return change_of(damping.modes[*damping.most_changed], result);
}

/// Whether a resonance without a peak changes by more than that.
bool one_without_peak_changes_more(const DampingFound& result, const Change& than) {
  return std::any_of(result.damping.modes.begin(), result.damping.modes.end(),
                     [&](const DampedMode& mode) {
                       const auto change = change_of(mode, result);
                       return change && std::abs(change->percent()) > std::abs(than.percent());
                     });
}

}  // namespace

std::vector<Rows> mode_tables(const Damping& damping) {
  if (damping.modes.empty()) return {};
  return {mode_rows(damping, "Q of the resonance", &PairMode::q),
          mode_rows(damping, "decay to -20 dB, ms", &PairMode::decay_20_db_ms),
          mode_rows(damping, "decay to -60 dB, ms", &PairMode::decay_60_db_ms)};
}

namespace {

constexpr double ringing_q = 0.71;  // below, a resonance makes no peak

/// The height of a resonance over its skirts follows its Q, so that a change of the Q is one of so
/// many decibels there, and the steps are those of a span. Nothing where it does not ring.
std::string ringing_text(double from_q, double to_q) {
  constexpr std::array<const char*, 4> weights{"probably inaudible",
                                               "at most just audible in direct comparison",
                                               "audible", "clearly audible"};
  const double db = db_from_amplitude(to_q / from_q);
  if (!(std::max(from_q, to_q) > ringing_q) || !std::isfinite(db)) return "";
  const auto step = static_cast<std::size_t>(&span_step(std::abs(db)) - span_steps().data());
  return fmt::format(" Its height changes by {}: {}.", db_text(std::abs(db)), weights.at(step));
}

}  // namespace

std::string conclusion(const DampingFound& result) {
  if (result.damping.modes.empty())
    return "No resonance lies in the band: there is nothing to damp.\n";
  const auto change = largest_change(result);
  if (!change) return "";
  return fmt::format(
      "{} instead of {}: {}{} changes most, its Q from {} to {} ({:+.0f} %); it decays by 60 dB "
      "in {} instead of {} ms.{}\n",
      printable(result.sources[change->to_source].label), printable(result.sources[0].label),
      one_without_peak_changes_more(result, *change)
          ? "of those that ring (Q above 0.71; common practice, no source), "
          : "",
      resonance_text(result.damping.modes[*result.damping.most_changed]), figures(change->from.q),
      figures(change->to.q), change->percent(), figures(change->to.decay_60_db_ms),
      figures(change->from.decay_60_db_ms), ringing_text(change->from.q, change->to.q));
}

namespace {

std::string driver_text(const DampingFound& result) {
  if (result.damping.driver.empty()) return "";
  const MovingCoil& coil = *result.earphone.moving_coil;
  const auto names = source_names(result);
  std::vector<std::vector<std::string>> rows{{"moving coil", "Qes", "Qts"}};
  for (std::size_t i = 0; i < result.sources.size(); ++i)
    rows.push_back({names[i], figures(result.damping.driver[i].q_electrical),
                    figures(result.damping.driver[i].q_total)});
  return fmt::format("{}{} at {}: Re {}, Qms {}; Qes grows as (Re + Rs)/Re.\n", aligned(rows),
                     coil.name.empty() ? "The driver" : printable(coil.name, 60),
                     hz_text(coil.resonance_hz), ohm_text(coil.dc_ohm),
                     figures(coil.q_mechanical)) +
         "\n";
}

}  // namespace

Rows factor_rows(const DampingFound& result) {
  const Damping& damping = result.damping;
  const auto number = [](double value) {
    return std::isfinite(value) ? figures(value) : std::string("infinite");
  };
  const auto names = source_names(result);
  Rows rows{{"damping factor", "rated", "lowest"}};
  if (damping.coil_ohm > 0) rows[0].push_back("with the coil");
  for (std::size_t i = 0; i < result.sources.size(); ++i) {
    const DampingFactor& factor = damping.factors[i];
    rows.push_back(
        {names[i], number(factor.rated.value_or(INFINITY)), number(factor.ratio.minCoeff())});
    if (damping.coil_ohm > 0)
      rows.back().push_back(figures(factor.ratio_with_coil.minCoeff()) + " to " +
                            figures(factor.ratio_with_coil.maxCoeff()));
  }
  return rows;
}

std::string factor_notes(const DampingFound& result) {
  const Damping& damping = result.damping;
  std::string text =
      fmt::format("Rated impedance {}{}.\n", ohm_text(damping.rated_ohm),
                  damping.rated_is_stated ? "" : " (lowest |Z| / 0.8; none is stated)");
  if (damping.modes.empty()) return text;
  const std::string within = fmt::format("{:.1f} %.\n", damping.change_at_factor_ten_percent);
  if (damping.coil_ohm > 0)
    return text + "The earphone's own " + ohm_text(damping.coil_ohm) +
           " limits the damping: raising the damping factor above 10 changes no Q by more than " +
           within;
  return text + "Raising the damping factor above 10 changes no Q by more than " + within;
}

namespace {

std::string limit_text(const QLimit& limit, const std::string& from_label) {
  const std::string within = number_text(limit.limit_percent) + " %";
  if (limit.unlimited)
    return fmt::format("No resistive source changes a Q by more than {}.\n", within);
  if (!limit.largest_ohm) return "";
  return fmt::format("Every resistive source from {} up to {} keeps each Q within {}.\n",
                     printable(from_label), ohm_text(*limit.largest_ohm), within);
}

}  // namespace

std::string model_text(const DampingEarphone& earphone) {
  if (earphone.fit_rms_percent)
    return fmt::format("a circuit fitted to the curve, error {} rms, at most {}",
                       percent_text(*earphone.fit_rms_percent),
                       percent_text(*earphone.error_percent));
  if (earphone.power_laws)
    return fmt::format(
        "its circuit (overdamped resonances and time responses: model error up to "
        "{} of |Z|)",
        percent_text(*earphone.error_percent));
  if (earphone.error_percent)
    return fmt::format("a model of its circuit with an error of at most {} of |Z|",
                       percent_text(*earphone.error_percent));
  return "its circuit, exactly";
}

namespace {

std::string damping_text(const DampingFound& result) {
  const Damping& damping = result.damping;
  std::string text =
      fmt::format("{}: from {}\n\n", printable(result.earphone.title), model_text(result.earphone));
  text += conclusion(result) + "\n";
  for (const auto& table : mode_tables(damping)) text += aligned(table);
  if (!damping.modes.empty())
    text += "Each row is one resonance; the terminal voltage contains all.\n\n";
  text += driver_text(result) + aligned(factor_rows(result)) + factor_notes(result);
  if (damping.limit) text += limit_text(*damping.limit, result.sources[0].label);
  return text;
}

// ---- files and figure --------------------------------------------------------------------------

CsvTable damping_csv(const Damping& damping) {
  CsvTable table;
  table.add("time_ms", 1000 * damping.burst_grid.time_s());
  for (std::size_t i = 0; i < damping.bursts.size(); ++i) {
    const std::string number = "_" + std::to_string(i + 1);
    table.add("terminal_volt" + number, damping.bursts[i].terminal.volt);
    table.add("envelope_volt" + number, damping.bursts[i].terminal.envelope_volt);
    table.add("step_volt" + number, damping.steps[i].volt_at_burst_instants);
    for (std::size_t d = 0; d < damping.bursts[i].motional.size(); ++d) {
      const std::string both = "_driver_" + std::to_string(d + 1) + number;
      table.add("motional_volt" + both, damping.bursts[i].motional[d].response.volt);
      table.add("motional_envelope_volt" + both,
                damping.bursts[i].motional[d].response.envelope_volt);
    }
  }
  return table;
}

constexpr double not_drawn = std::numeric_limits<double>::quiet_NaN();

double decay_of(const std::optional<PairMode>& mode) {
  return mode && mode->s1.real() < 0 ? -mode->s1.real() : not_drawn;
}
double oscillation_of(const std::optional<PairMode>& mode) {
  return mode && mode->is_complex() ? std::abs(mode->s1.imag()) / two_pi : not_drawn;
}

template <class Value>
Array over(const std::vector<std::optional<PairMode>>& modes, const Value& value) {
  Array result(static_cast<Eigen::Index>(modes.size()));
  for (std::size_t i = 0; i < modes.size(); ++i)
    result[static_cast<Eigen::Index>(i)] = value(modes[i]);
  return result;
}

plots::DampedModeCurve mode_curve(const Damping& damping, std::size_t m) {
  const auto& path = damping.locus->modes[m];
  auto at_sources = damping.modes[m].at;
  at_sources.pop_back();  // an open earphone is off the figure
  plots::DampedModeCurve curve;
  curve.label = mode_label(damping.modes[m]);
  curve.q = over(path, [](const auto& mode) {
    return mode && std::isfinite(mode->q) && mode->q > 0 ? mode->q : not_drawn;
  });
  curve.decay_per_second = over(path, decay_of);
  curve.oscillation_hz = over(path, oscillation_of);
  curve.source_decay_per_second = over(at_sources, decay_of);
  curve.source_oscillation_hz = over(at_sources, oscillation_of);
  return curve;
}

/// The modes whose Q spreads most over the sources; more lines than these cannot be told apart.
std::vector<std::size_t> drawn_modes(const Damping& damping) {
  std::vector<std::pair<double, std::size_t>> spread;
  for (std::size_t m = 0; m < damping.modes.size(); ++m) {
    double low = INFINITY, high = 0;
    for (const auto& at : damping.locus->modes[m])
      if (at && at->q > 0 && std::isfinite(at->q))
        low = std::min(low, at->q), high = std::max(high, at->q);
    if (high > 0) spread.push_back({-high / low, m});
  }
  std::sort(spread.begin(), spread.end());
  std::vector<std::size_t> modes;
  for (const auto& [ratio, m] : spread) modes.push_back(m);
  // The one that the title speaks of is there in any case.
  const auto titled = std::find(modes.begin(), modes.end(), damping.most_changed.value_or(0));
  if (titled != modes.end()) std::rotate(modes.begin(), titled, titled + 1);
  modes.resize(std::min<std::size_t>(modes.size(), 6));
  std::sort(modes.begin(), modes.end());
  return modes;
}

/// Which driver's motional voltage shows the burst's mode; nothing: the terminals.
std::optional<std::size_t> shown_driver(const Damping& damping) {
  if (!damping.burst_is_at_mode) return std::nullopt;
  const auto& name = damping.modes[damping.most_changed.value_or(0)].name;
  const auto& motional = damping.bursts[0].motional;
  for (std::size_t d = 0; name && d < motional.size(); ++d)
    if (name->rfind(motional[d].driver, 0) == 0) return d;
  return std::nullopt;
}

std::string figure_title(const DampingFound& result) {
  const auto change = largest_change(result);
  if (result.damping.modes.empty()) return "No resonance in the band: nothing to damp";
  if (!change) return result.earphone.title;
  const auto [to, from] =
      title_names(result.sources[change->to_source].label, result.sources[0].label);
  return fmt::format("{} instead of {}: Q {} to {} at {}", to, from, figures(change->from.q),
                     figures(change->to.q),
                     hz_text(result.damping.modes[*result.damping.most_changed].hz));
}

}  // namespace

plots::DampingFigure figure_of(const DampingFound& result) {
  const Damping& damping = result.damping;
  plots::DampingFigure figure;
  figure.earphone_title = result.earphone.title;
  figure.conclusion = figure_title(result);
  figure.caption = "Resonances are the zeros of Z(s) + Zs(s); from " + model_text(result.earphone);
  figure.source_ohm = damping.locus->source_ohm;
  for (const std::size_t m : drawn_modes(damping)) figure.modes.push_back(mode_curve(damping, m));
  if (figure.modes.size() < damping.modes.size())
    figure.caption +=
        fmt::format("; drawn are the {} of {} resonances whose Q the source changes most",
                    figure.modes.size(), damping.modes.size());
  const auto driver = shown_driver(damping);
  if (!driver && !damping.modes.empty())
    figure.caption +=
        "; the burst is the voltage at the terminals: all resonances, and what the source divides, "
        "so it need not end as the one resonance of the title does";
  for (std::size_t i = 0; i < result.sources.size(); ++i) {
    const SourceBurst& burst = damping.bursts[i];
    figure.sources.push_back(
        {result.sources[i].short_label, result.sources[i].output_ohm,
         driver ? burst.motional[*driver].response.envelope_volt : burst.terminal.envelope_volt});
  }
  figure.time_ms = 1000 * damping.burst_grid.time_s();
  figure.burst_end_ms = 1000 * damping.burst.length_s();
  figure.burst_heading = fmt::format(
      "{} cycles at {}, {}, dB", damping.burst.cycles, hz_text(damping.burst.hz),
      driver ? short_name(damping.bursts[0].motional[*driver].driver, 30) : "at the terminals");
  return figure;
}

// ---- the command -------------------------------------------------------------------------------

namespace {

Answer answer(const DampingCommand& options) {
  if (options.to.empty() && !options.limit_q_percent)
    throw InputError("there is no source to compare with",
                     "give --to 6, or --limit-q-percent 10 for the highest output impedance");
  const auto read = read_compared(options.from, read_sources(options.to, "--to")).all();
  const Earphone earphone = read_earphone(options.earphone);
  auto result = std::make_shared<DampingFound>(
      DampingFound{damping_earphone(earphone, options.grid.band), {}, {}});
  for (const auto& source : read) result->sources.push_back(damping_source(source));
  DampingOptions how;
  how.band = options.grid.band;
  how.points = options.grid.points;
  how.burst_hz = options.burst_hz;
  how.cycles = options.cycles;
  how.limit_q_percent = options.limit_q_percent;
  how.locus = options.output.show || !options.output.plot.empty();
  result->damping = damping(result->earphone, result->sources, how);

  Answer reply;
  reply.text = damping_text(*result);
  if (options.output.json) reply.json = damping_json(*result);
  add_bias_cautions(reply, read, earphone);
  reply.warnings = result->damping.warnings;
  if (options.output.csv) reply.csv = damping_csv(result->damping);
  if (how.locus)
    reply.draw = [result](const plots::Output& output) { plots::draw(figure_of(*result), output); };
  reply.limit_exceeded = result->damping.limit && result->damping.limit->exceeded;
  return reply;
}

void add_own_options(Command& command, DampingCommand& options) {
  add_earphone_argument(command, options.earphone);
  add_from_option(command, options.from);
  add_to_option(command, options.to);
  command.add_number("--burst", options.burst_hz,
                     {.unit = "HZ", .otherwise = "the resonance that changes most"},
                     "frequency of the tone burst");
  command.add_number("--cycles", options.cycles, {.unit = "N", .whole = true},
                     "whole cycles of the tone burst");
  command.add_number(
      "--limit-q-percent", options.limit_q_percent, {.unit = "PERCENT"},
      "exit with 1 if a Q changes by more; also gives the highest output impedance within it");
}

}  // namespace

void add_damping(Command& program, Session& session) {
  auto options = std::make_shared<DampingCommand>();
  Command& command = *program.add_subcommand(
      "damping", "How the source changes the Q and the decay of every resonance");
  command.footer(
      "Example:  ohmtilt damping impedance-curves/single-dynamic.circuit.toml --from 0.3 --to 6\n"
      "The resonances behind a source of impedance Zs are the zeros of Z(s) + Zs(s). They come "
      "from the circuit itself, or from the passive circuit fitted to a curve.\n"
      "Verdict by common practice, no source: below 3.5, 12 and 41 % of Q, which are 0.3, 1 and 3 "
      "dB in the height of the resonance.");
  add_own_options(command, *options);
  add_grid_options(command, options->grid);
  add_output_options(command, options->output);
  command.callback([options, &session] {
    respond(session, options->output, "damping", [&] { return answer(*options); });
  });
}

}  // namespace ohmtilt::cli
