// ohmtilt pad: attenuation networks from preferred values for one earphone.
#include <fmt/format.h>

#include <ohmtilt/base/preferred_values.h>
#include <ohmtilt/chain/matched_pad.h>
#include <ohmtilt/chain/read_chain.h>
#include <ohmtilt/circuit/stock.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <plots/figures/schematic.h>
#include <tools/ohmtilt/commands/pad_answer.h>
#include <tools/ohmtilt/commands/pad_switch.h>
#include <tools/ohmtilt/program/chain_input.h>
#include <tools/ohmtilt/program/input_lists.h>
#include <tools/ohmtilt/program/pad_limits.h>
#include <tools/ohmtilt/program/parts_list.h>
#include <tools/ohmtilt/program/progress.h>
#include <tools/ohmtilt/program/tolerance_options.h>
#include <tools/ohmtilt/program/wording.h>
#include <tools/ohmtilt/program/written_network.h>
#include <algorithm>
#include <cmath>
#include <memory>

namespace ohmtilt::cli {
namespace {

struct PadCommand {
  std::function<void(double)> progress;
  std::string earphone;
  std::string source = "0";
  std::optional<double> attenuation_db;
  double within_db = 0.5;
  std::vector<std::string> topologies;
  std::vector<std::string> series;
  std::string range = "1-1000";
  std::optional<std::string> stock;
  PadLimits limits;
  std::optional<std::string> rated;  // empty: the earphone's own
  std::optional<std::string> values;
  bool ideal = false;
  bool all = false;
  std::optional<std::string> steps;
  std::optional<double> step;  // one of them, for --write and --draw
  std::optional<double> ladder_ohm;
  std::optional<double> volt;
  double tolerance_percent = 1;
  long samples = default_pad_draws().samples;
  std::uint64_t seed = default_pad_draws().seed;
  std::optional<std::string> write;
  std::optional<std::string> from;
  std::optional<std::string> parts;
  std::optional<int> after;  // that many stages of the chain stand before the pad
  double ambient_celsius = 25;
  GridOptions grid;
  OutputOptions output;
};

std::vector<double> numbers_of(const std::string& text, const std::string& flag) {
  std::vector<double> numbers;
  for (std::size_t at = 0; at <= text.size();) {
    const std::size_t end = std::min(text.find(',', at), text.size());
    numbers.push_back(flag_number(text.substr(at, end - at), flag));
    at = end + 1;
  }
  return numbers;
}

// ---- what there is to build from ---------------------------------------------------------------

std::pair<double, double> range_of(const std::string& text) {
  const auto dash = text.find('-', 1);
  const auto low = resistance_of_text(text.substr(0, dash));
  const auto high =
      dash == std::string::npos ? std::nullopt : resistance_of_text(text.substr(dash + 1));
  if (!low || !high || *low > *high)
    throw InputError("--range \"" + printable(text) + "\" is not a range",
                     "give two resistances in ohm, the lower first: 1-1000");
  return {*low, *high};
}

std::vector<double> values_of(const PadCommand& options) {
  refuse_stock_and_series(options.stock.has_value(), !options.series.empty());
  const auto [low, high] = range_of(options.range);
  std::vector<double> values;
  if (options.stock) {
    for (const double ohm : read_stock(*options.stock).ohms)
      if (ohm >= low && ohm <= high) values.push_back(ohm);
    if (values.empty())
      throw InputError(printable(*options.stock) + " lists no resistor from " + number_text(low) +
                           " to " + number_text(high) + " ohm",
                       "list some, or widen --range");
    return values;
  }
  const std::vector<std::string> default_series{"E24"};
  for (const auto& name : options.series.empty() ? default_series : options.series)
    for (const double ohm : preferred_values(parse_series(name), low, high)) values.push_back(ohm);
  std::sort(values.begin(), values.end());
  values.erase(std::unique(values.begin(), values.end()), values.end());
  return values;
}

PadTopology parse_topology(const std::string& name) {
  if (const auto topology = topology_of_name(name)) return *topology;
  throw InputError("--topology \"" + printable(name) + "\" is not known",
                   "say " + listed(topology_names()));
}

/// A balanced output asks for pads that are alike in both legs.
std::vector<PadTopology> topologies_of(const PadCommand& options, const Chain& chain) {
  std::vector<PadTopology> result;
  for (const auto& name : options.topologies) {
    const PadTopology topology = parse_topology(name);
    if (std::find(result.begin(), result.end(), topology) == result.end())
      result.push_back(topology);
  }
  if (!result.empty()) return result;
  if (chain.source().balanced) return {PadTopology::U, PadTopology::H, PadTopology::O};
  return {PadTopology::series, PadTopology::L, PadTopology::T, PadTopology::pi};
}

PadTopology one_topology(const PadCommand& options, const std::string& flag) {
  if (options.topologies.size() != 1)
    throw InputError(flag + " needs one topology", "give one, such as --topology L");
  return parse_topology(options.topologies[0]);
}

Pad given_pad(const PadCommand& options) {
  Pad pad{one_topology(options, "--values"), {}, options.tolerance_percent};
  std::string text = *options.values;
  for (std::size_t at = 0; at <= text.size();) {
    const std::size_t end = std::min(text.find(',', at), text.size());
    const std::string word = text.substr(at, end - at);
    const auto ohm = word == "0" ? std::optional(0.0) : resistance_of_text(word);
    if (!ohm)
      throw InputError("--values: \"" + printable(word, 40) + "\" is no resistance",
                       "give " + listed(pad_keys(pad.topology)) + ", with commas between");
    pad.ohm.push_back(*ohm);
    at = end + 1;
  }
  if (const auto fault = fault_of(Stage(pad)))
    throw InputError("--values: " + fault->key + " " + fault->wrong, fault->remedy);
  return pad;
}

// ---- the site ----------------------------------------------------------------------------------

std::optional<double> rated_ohm(const PadCommand& options, const Earphone& earphone) {
  if (!options.rated) return std::nullopt;
  if (!options.rated->empty()) return flag_number(*options.rated, "--rated");
  if (!earphone.rated_ohm)
    throw InputError("the earphone has no rated resistance", "give one: --rated 32");
  return earphone.rated_ohm;
}

/// The chain around the pad.
struct PadPlace {
  Chain whole, before, after;
};

PadPlace place_of(const PadCommand& options, const Chain& chain) {
  const auto& stages = chain.stages();
  const auto count = static_cast<int>(stages.size());
  const int before = options.after.value_or(count);
  if (before > count)
    throw InputError(
        "--after " + std::to_string(before) + " names no place in the chain",
        "it has " + std::to_string(count) + " stages: give 0 to " + std::to_string(count));
  if (before < count && options.rated)
    throw InputError("--rated is a load at the pad's own output, and stages follow it here",
                     "leave out --rated or --after");
  const auto cut = stages.begin() + before;
  return {chain, chain.with_stages({stages.begin(), cut}),
          Chain(chain.title(), Source{}, {cut, stages.end()})};
}

/// The earphone as the pad sees it, behind the stages that follow.
Earphone seen_by_pad(const Earphone& earphone, const PadPlace& place) {
  if (place.after.stages().empty()) return earphone;
  Earphone seen = earphone;
  const Band known =
      overlap(earphone.impedance.range(), thevenin_source(place.after).output.range());
  seen.impedance = OnePort(known, [after = place.after, load = earphone.impedance](
                                      const Array& hz) { return input_ohm(after, load, hz); });
  seen.phase_spread.reset();
  return seen;
}

/// --from is at the earphone: at the pad's output it is what makes the same voltage there.
TheveninSource seen_at_pad(const TheveninSource& from, const Earphone& earphone,
                           const PadPlace& place) {
  if (place.after.stages().empty()) return from;
  TheveninSource seen = from;
  seen.output = OnePort::resistance(0);
  seen.chain = nullptr;
  const auto volt = [](const TheveninSource& source, const OnePort& load, const Array& hz) {
    const TheveninSamples samples = source.at(hz);
    const ComplexArray z = load.at(hz);
    ComplexArray ratio = z / (z + samples.output_ohm);
    if (samples.open_ratio.size() > 0) ratio *= samples.open_ratio;
    return ratio;
  };
  seen.open_ratio = [from, through = thevenin_source(place.after), load = earphone.impedance,
                     volt](const Array& hz) -> ComplexArray {
    return volt(from, load, hz) / volt(through, load, hz);
  };
  return seen;
}

PadSite site_of(const PadCommand& options, const Earphone& earphone, const TheveninSource& source,
                const PadPlace& place) {
  PadSiteOptions how;
  how.band = options.grid.band;
  how.points = options.grid.points;
  how.anchor = options.grid.anchor;
  how.rated_ohm = rated_ohm(options, earphone);
  how.open_volt = options.volt.value_or(place.whole.source().open_volt.value_or(1));
  if (options.from) how.from = seen_at_pad(read_source(*options.from), earphone, place);
  if (place.after.stages().empty()) return {earphone, source, how};
  return {seen_by_pad(earphone, place), thevenin_source(place.before), how};
}

ToleranceOptions draws_of(const PadCommand& options) {
  ToleranceOptions draws = default_pad_draws();
  draws.samples = options.samples;
  draws.seed = options.seed;
  return draws;
}

PadSearchOptions search_options(const PadCommand& options, const Chain& chain) {
  PadSearchOptions how;
  how.topologies = topologies_of(options, chain);
  how.target = {options.attenuation_db.value_or(0), options.within_db};
  how.limits = options.limits;
  how.dominated_too = options.all;
  how.tolerance_percent = options.tolerance_percent;
  how.max_ampere = chain.source().max_ampere;
  how.draws = draws_of(options);
  how.progress = options.progress;
  return how;
}

Pad ideal_pad(const PadCommand& options, const Earphone& earphone) {
  const PadTopology topology = one_topology(options, "--ideal");
  const auto rated = options.rated ? rated_ohm(options, earphone) : earphone.rated_ohm;
  if (!rated)
    throw InputError("a matched pad needs a resistance to match", "give one: --rated 600");
  if (!options.attenuation_db)
    throw InputError("a matched pad needs an attenuation", "give --attenuation 10");
  Pad pad = matched_pad(topology, *rated, *options.attenuation_db);
  pad.tolerance_percent = options.tolerance_percent;
  return pad;
}

/// A given pad has no target to miss unless one was named.
PadSearch search(const PadCommand& options, const Earphone& earphone, const PadSite& site,
                 const Chain& chain) {
  PadSearchOptions how = search_options(options, chain);
  if (!options.values && !options.ideal) {
    if (!options.attenuation_db)
      throw InputError("there is no attenuation to search for", "give --attenuation 10");
    how.values_ohm = values_of(options);
    return search_pads(site, how);
  }
  const Pad pad = options.values ? given_pad(options) : ideal_pad(options, earphone);
  PadSearch found = evaluate_pads(site, {pad}, how);
  found.reason = options.values ? "The given values." : "The exact values of a matched pad.";
  return found;
}

// ---- files -------------------------------------------------------------------------------------

/// The chain with the pad in its place, for a file at place; the pad alone for a two-port.
std::string written_pad_text(const PadPlace& around, const Pad& pad, const std::string& pad_title,
                             const std::filesystem::path& place, const GridOptions& grid) {
  if (is_two_port_name(place.string()))
    return pad_two_port_text(pad, pad_title, grid.band, grid.points);
  const Chain here = moved_chain(around.whole, place);
  std::vector<Stage> stages = here.stages();
  stages.insert(stages.begin() + static_cast<long>(around.before.stages().size()), pad);
  return chain_text(Chain(here.title() + ", " + pad_title, here.source(), stages));
}

void warn_of_current(const PadReport& report, std::vector<std::string>& warnings) {
  if (!report.max_ampere || !report.search.recommended) return;
  const double ampere = report.search.candidates[*report.search.recommended].largest_ampere;
  if (ampere > *report.max_ampere)
    warnings.push_back(
        fmt::format("with the pad in place the amplifier would give {} mA, more than its {} mA",
                    significant(1000 * ampere), significant(1000 * *report.max_ampere)));
}

void check_switch_usage(const PadCommand& options) {
  if (!options.steps) {
    if (options.step || options.ladder_ohm)
      throw InputError(
          std::string(options.step ? "--step" : "--ladder-ohm") + " needs a switched attenuator",
          "give its steps: --steps 0,6,12,20");
    return;
  }
  const bool of_pads = options.values || options.ideal || options.attenuation_db || options.all ||
                       !options.topologies.empty();
  if (of_pads)
    throw InputError("--steps gives a switched attenuator, not a single pad",
                     "leave out --values, --ideal, --attenuation, --topology and --all");
}

void check_usage(const PadCommand& options) {
  if (options.values && options.ideal)
    throw InputError("--values and --ideal both name the pad", "give one of them");
  check_switch_usage(options);
  check_limits(options.limits);
  if (!(options.tolerance_percent >= 0 && options.tolerance_percent < 100))
    throw InputError(
        "a tolerance of " + number_text(options.tolerance_percent) + " % is not allowed",
        "give per cent from 0 to less than 100");
}

/// "switch.chain.toml" for the step of 6 dB: "switch-6-db.chain.toml".
std::filesystem::path step_place(const std::filesystem::path& place, double step_db) {
  const std::string name = place.filename().string();
  return place.parent_path() /
         (name.substr(0, name.find('.')) + "-" + number_text(step_db) + "-db" +
          (name.find('.') < name.size() ? name.substr(name.find('.')) : ""));
}

/// The step that was chosen; nothing: all of them.
const SwitchedAttenuator::Step* chosen_step(const PadCommand& options,
                                            const SwitchedAttenuator& ladder) {
  if (!options.step) return nullptr;
  for (const auto& step : ladder.steps)
    if (step.asked_db == *options.step) return &step;
  throw InputError("--step " + number_text(*options.step) + " is not one of the steps",
                   "give one of --steps " + printable(*options.steps));
}

// ---- the command -------------------------------------------------------------------------------

/// What depends on a pad that was chosen; without one there is nothing to draw or write.
void add_chosen(const PadCommand& options, const std::shared_ptr<const PadReport>& report,
                const std::shared_ptr<const PadSite>& site, const PadPlace& place, Answer& result) {
  const Pad& pad = report->search.candidates[*report->search.recommended].pad;
  if (options.parts)
    result.documents.emplace_back(*options.parts, parts_csv(listed_pad_parts(*report)));
  if (options.write)
    result.documents.emplace_back(
        *options.write,
        written_pad_text(place, pad, pad_name(pad) + " ohm", *options.write, options.grid));
  result.draw = [report, site](const plots::Output& output) {
    plots::draw(pad_figure(*report, *site), output);
  };
  result.draw_schematic = [pad](const plots::Output& output) {
    plots::draw(plots::schematic(pad, pad_name(pad) + " ohm"), output);
  };
}

void add_nothing_chosen(Answer& result) {
  const auto nothing = [](const plots::Output&) {};
  result.draw = result.draw_schematic = nothing;
  result.limit_exceeded = true;
}

/// A chain file for the chosen step, or one for each.
void write_steps(const PadCommand& options, const SwitchedAttenuator& ladder,
                 const PadPlace& around, Answer& result) {
  const auto* chosen = chosen_step(options, ladder);
  if (options.parts)
    result.documents.emplace_back(
        *options.parts,
        parts_csv(listed_ladder_parts(ladder, options.tolerance_percent, options.ambient_celsius)));
  if (!options.write) return;
  for (const auto& step : ladder.steps) {
    if (chosen && chosen != &step) continue;
    const auto place =
        chosen ? std::filesystem::path(*options.write) : step_place(*options.write, step.asked_db);
    result.documents.emplace_back(
        place, written_pad_text(around, step.pad, "switch at " + number_text(step.asked_db) + " dB",
                                place, options.grid));
  }
}

void add_switch(const PadCommand& options, const std::shared_ptr<const PadReport>& report,
                const std::shared_ptr<const PadSite>& site, const PadPlace& place, Answer& result) {
  write_steps(options, *report->ladder, place, result);
  result.draw = [report, site](const plots::Output& output) {
    plots::draw(attenuator_figure(*report, *site), output);
  };
  const auto* chosen = chosen_step(options, *report->ladder);
  result.draw_schematic = [report, chosen](const plots::Output& output) {
    plots::draw(
        chosen ? plots::schematic(chosen->pad, "Switch at " + number_text(chosen->asked_db) + " dB")
               : ladder_schematic(*report->ladder),
        output);
  };
  for (auto& warning : ladder_warnings(*report, *site))
    result.warnings.push_back(std::move(warning));
  if (place.whole.source().balanced)
    result.warnings.push_back(
        "the source is balanced and the row stands in one leg: a balanced switch needs one in "
        "each");
}

/// Looks for the pad or the switch, and holds it against the limits.
void work_out(const PadCommand& options, const Earphone& earphone, const PadSite& site,
              const Chain& chain, PadReport& report) {
  if (options.steps) {
    report.ladder = switched_attenuator(
        site, {numbers_of(*options.steps, "--steps"), values_of(options), options.ladder_ohm,
               options.within_db, options.tolerance_percent, draws_of(options)});
    report.exceeded = limit_texts(exceeded(*report.ladder, options.limits));
    return;
  }
  report.search = search(options, earphone, site, chain);
  if (report.search.recommended) {
    report.exceeded =
        limit_texts(exceeded(report.search.candidates[*report.search.recommended], options.limits));
    return;
  }
  PadSearchOptions how = search_options(options, chain);
  how.values_ohm = values_of(options);
  report.nearest = nearest_pad(site, how);
}

Answer answer(const PadCommand& options) {
  check_usage(options);
  const Earphone earphone = read_earphone(options.earphone);
  const Read<Chain> chain = read_any_chain(options.source);
  const TheveninSource source = read_source(options.source);
  const PadPlace place = place_of(options, chain.value);
  derating(options.ambient_celsius);  // refuses what is no temperature
  const auto site = std::make_shared<const PadSite>(site_of(options, earphone, source, place));
  const auto report = std::make_shared<PadReport>();
  report->earphone_title = earphone.title;
  report->source_label = source.label;
  report->anchor = options.grid.anchor;
  report->attenuation_db = options.attenuation_db;
  report->within_db = options.within_db;
  if (options.from) report->from_label = read_source(*options.from).label;
  report->rated_ohm = rated_ohm(options, earphone);
  report->max_ampere = chain.value.source().max_ampere;
  report->tolerance_percent = options.tolerance_percent;
  report->ambient_celsius = options.ambient_celsius;
  if (!place.after.stages().empty()) report->after = options.after;
  work_out(options, earphone, *site, chain.value, *report);

  Answer result;
  add_bias_cautions(result, {source}, earphone);
  result.warnings = site->warnings();
  warn_of_current(*report, result.warnings);
  result.text = pad_text(*report, *site);
  result.json = pad_json(*report, *site);
  result.csv = pad_csv(*report);
  result.limit_exceeded = !report->exceeded.empty();
  if (report->ladder)
    add_switch(options, report, site, place, result);
  else if (report->search.recommended)
    add_chosen(options, report, site, place, result);
  else
    add_nothing_chosen(result);
  return result;
}

void add_search_options(Command& command, PadCommand& options) {
  command
      .add_option("--from", options.from,
                  "the source that the span is the deviation from: ohm, code, curve or chain file "
                  "[the source without the pad]")
      ->type_name("SOURCE");
  command.add_number("--attenuation", options.attenuation_db,
                     {.unit = "DB", .least = 0, .inside = true}, "wanted attenuation");
  command.add_number("--within", options.within_db, {.unit = "DB", .least = 0, .inside = true},
                     "how far from it a pad, or a step of a switch, may be");
  command
      .add_option("--topology", options.topologies,
                  "series, L, T, pi, U, H, O, bridged-T; several with commas [series,L,T,pi; U,H,O "
                  "for a balanced source]")
      ->delimiter(',')
      ->type_name("NAME");
  command
      .add_option("--series", options.series,
                  "preferred values to take, E3 to E192; may be repeated [E24]")
      ->delimiter(',')
      ->type_name("E");
  command.add_option("--range", options.range, "from the least to the greatest ohm [1-1000]")
      ->type_name("LO-HI");
  command.add_option("--stock", options.stock, "a file that lists the resistors there are")
      ->type_name("FILE");
  command
      .add_option("--rated", options.rated,
                  "attenuation into this resistance in place of the earphone [its rated one]")
      ->expected(0, 1)
      ->type_name("OHM");
  command.add_flag("--all", options.all, "also list pads that are not Pareto-optimal");
}

void add_limit_options(Command& command, PadCommand& options) {
  PadLimits& limits = options.limits;
  const auto add = [&](const std::string& flag, std::optional<double>& value, const char* unit,
                       const std::string& what) {
    command.add_number(flag, value, {.unit = unit, .least = 0, .inside = true}, what);
  };
  add("--limit-span-db", limits.span_db, "DB", "at most this span of the deviation");
  add("--limit-output-ohm", limits.output_ohm, "OHM", "at most this output impedance");
  add("--limit-input-ohm", limits.input_ohm, "OHM", "at least this load to the amplifier");
  add("--limit-dissipation-milliwatt", limits.dissipation_milliwatt, "MW",
      "at most this heat in each resistor, at --volt");
  add("--limit-noise-volt", limits.noise_volt, "V", "at most this noise of the pad, A-weighted");
  command.add_number("--limit-parts", limits.parts, {.unit = "N", .least = 1, .whole = true},
                     "at most this many resistors");
}

void add_pad_options(Command& command, PadCommand& options) {
  command
      .add_option("--values", options.values,
                  "evaluate this pad: its ohms with commas, in the order of a chain file")
      ->type_name("OHM,OHM");
  command.add_flag("--ideal", options.ideal,
                   "the exact values of a matched pad of --rated ohm and --attenuation");
  command
      .add_option("--steps", options.steps,
                  "a switched attenuator with these steps, from one ladder of resistors")
      ->type_name("DB,DB");
  command.add_number("--step", options.step, {.unit = "DB", .otherwise = "all"},
                     "the step of the switch that --write and --draw are about");
  command.add_number("--ladder-ohm", options.ladder_ohm,
                     {.unit = "OHM",
                      .least = 0,
                      .inside = true,
                      .otherwise = "the earphone's lowest |Z|, more where the values there are ask "
                                   "for it"},
                     "resistance of that ladder from end to end");
  command.add_number(
      "--volt", options.volt,
      {.unit = "V", .least = 0, .inside = true, .otherwise = "the chain's open_volt, or 1"},
      "rms level of the amplifier without load, for heat and current");
  command.add_number("--after", options.after,
                     {.unit = "N", .least = 0, .whole = true, .otherwise = "all"},
                     "how many stages of the chain stand before the pad; a cable or a switch's "
                     "contact may follow it");
  command.add_number("--ambient", options.ambient_celsius,
                     {.unit = "DEG", .least = -55, .most = 150},
                     "temperature around the resistors in deg C, for their rating");
  command.add_number("--tolerance", options.tolerance_percent, {.unit = "PERCENT"},
                     "of each resistor, percent");
  add_samples_option(command, options.samples, "random draws of the resistors");
  add_seed_option(command, options.seed);
  command
      .add_option(
          "--write", options.write,
          "write the source with the recommended pad behind it as a chain file, or the pad alone "
          "as a two-port (.s2p); of a "
          "switch one for each step, switch-6-db.chain.toml for switch.chain.toml")
      ->type_name("FILE");
}

}  // namespace

void add_pad(Command& program, Session& session) {
  auto options = std::make_shared<PadCommand>();
  Command& command = *program.add_subcommand(
      "pad", "Attenuation pads from preferred values: all Pareto-optimal ones, one recommended");
  command.footer(
      "Example:  ohmtilt pad impedance-curves/two-way-armature.csv --source 0.3 --attenuation 10 "
      "--topology L --write padded.chain.toml\n"
      "All combinations of the values are tried. A pad is Pareto-optimal when no other is better "
      "in "
      "every respect (attenuation error, output impedance, span, load). Attenuation is the loss "
      "against the same source without the pad, into this earphone at the reference frequency. A "
      "lower output impedance always draws more current from the amplifier (--plot shows it).");
  add_earphone_argument(command, options->earphone);
  command
      .add_option("--source", options->source, "what the pad stands behind, ohm or chain file [0]")
      ->type_name("SOURCE");
  add_search_options(command, *options);
  add_limit_options(command, *options);
  add_pad_options(command, *options);
  add_parts_option(command, options->parts);
  add_grid_options(command, options->grid);
  add_anchor_option(command, options->grid);
  add_output_options(command, options->output);
  add_schematic_option(command, options->output, "of the recommended pad, or of the switch,");
  command.callback([options, &session] {
    options->progress = progress_line(session, "pad");
    respond(session, options->output, "pad", [&] { return answer(*options); });
  });
}

}  // namespace ohmtilt::cli
