// ohmtilt flatten: a network across the earphone that makes its impedance flat.
#include <fmt/format.h>

#include <ohmtilt/base/frequency_grid.h>
#include <ohmtilt/chain/thevenin_source.h>
#include <ohmtilt/circuit/read_circuit.h>
#include <ohmtilt/circuit/sampled_two_port.h>
#include <ohmtilt/curve/two_port_file.h>
#include <ohmtilt/design/flatten/flatten.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/strict_toml.h>
#include <ohmtilt/text/text.h>
#include <ohmtilt/text/warnings.h>
#include <plots/figures/flatten_figure.h>
#include <tools/ohmtilt/program/chain_input.h>
#include <tools/ohmtilt/program/command.h>
#include <tools/ohmtilt/program/input_lists.h>
#include <tools/ohmtilt/program/parts_list.h>
#include <tools/ohmtilt/program/prefixed.h>
#include <tools/ohmtilt/program/tolerance_options.h>
#include <tools/ohmtilt/program/wording.h>
#include <tools/ohmtilt/program/written_network.h>
#include <algorithm>
#include <cmath>
#include <memory>

namespace ohmtilt::cli {
namespace {

struct FlattenCommand {
  std::string earphone;
  std::string source = "10";
  FlattenOptions how;
  std::optional<std::string> series;
  std::optional<std::string> stock;
  bool no_coils = false;
  std::optional<std::string> write, parts;
  GridOptions grid;
  OutputOptions output;
};

Json branch_json(const FlattenBranch& branch) {
  return {{"ohm", branch.ohm > 0 ? Json(branch.ohm) : Json(nullptr)},
          {"henry", json_number(branch.henry)},
          {"coil_ohm", branch.henry ? Json(branch.coil_ohm) : Json(nullptr)},
          {"farad", json_number(branch.farad)}};
}

Json parts_json(const std::optional<Circuit>& circuit) {
  Json parts = Json::array();
  if (!circuit) return parts;
  for (const auto& part : circuit->parts()) {
    Json json{{"name", part.name}, {"kind", kind_name(part.kind)}};
    for (const auto& value : part.values) json[value.key] = value.value;
    json["tolerance_percent"] = part.tolerance_percent;
    parts.push_back(json);
  }
  return parts;
}

Json pad_instead_json(const std::optional<PadInstead>& pad, bool better) {
  if (!pad) return nullptr;
  return {{"series_ohm", pad->series_ohm},       {"shunt_ohm", pad->shunt_ohm},
          {"output_ohm", pad->output_ohm},       {"attenuation_db", pad->attenuation_db},
          {"input_min_ohm", pad->input_min_ohm}, {"does_better", better}};
}

Json flatten_json(const Flattening& found, const FlattenCommand& options, const Earphone& earphone,
                  const std::optional<Circuit>& circuit) {
  Json json{{"earphone", earphone.title},
            {"source_ohm", options.how.source_ohm},
            {"limit_db", options.how.limit_db},
            {"reached", found.reached},
            {"branches", Json::array()},
            {"span_before_db", found.span_before_db},
            {"span_after_db", found.span_after_db},
            {"min_ohm_before", found.min_ohm_before},
            {"min_ohm_after", found.min_ohm_after},
            {"least_ohm", found.least_ohm},
            {"extra_current_ratio", found.extra_current_ratio},
            {"loss_db", found.loss_db},
            {"tolerance_p95_db", found.tolerance_p95_db},
            {"variation_db", found.variation_db},
            {"parts", parts_json(circuit)},
            {"pad", pad_instead_json(found.pad, found.pad_does_better)},
            {"over_source",
             {{"source_ohm", json_array(found.source_ohm)},
              {"span_before_db", json_array(found.over_source_before_db)},
              {"span_after_db", json_array(found.over_source_after_db)}}},
            {"frequency_hz", json_array(found.hz)},
            {"before_ohm", json_array(found.before_ohm.abs())},
            {"after_ohm", json_array(found.after_ohm.abs())}};
  for (const auto& branch : found.branches) json["branches"].push_back(branch_json(branch));
  return json;
}

std::string branches_table(const Flattening& found) {
  std::vector<std::vector<std::string>> rows{{"branch", "resistor", "coil", "capacitor"}};
  for (std::size_t i = 0; i < found.branches.size(); ++i) {
    const FlattenBranch& one = found.branches[i];
    rows.push_back(
        {std::to_string(i + 1), one.ohm > 0 ? ohm_text(one.ohm) : "-",
         one.henry ? with_prefix(*one.henry, "H") + " (" + ohm_text(one.coil_ohm) + ")" : "-",
         one.farad ? with_prefix(*one.farad, "F") : "-"});
  }
  return aligned(rows);
}

std::string pad_sentence(const Flattening& found, const FlattenCommand& options) {
  if (!found.pad) return "";
  const PadInstead& pad = *found.pad;
  const std::string what =
      pad.series_ohm > 0
          ? fmt::format("An L pad of {} and {}", ohm_text(pad.series_ohm), ohm_text(pad.shunt_ohm))
          : fmt::format("One resistor of {} across the terminals", ohm_text(pad.shunt_ohm));
  return fmt::format(
      "{} reaches the same span behind {} with no more load, {} loses {}; the network loses {}.\n",
      what, ohm_text(options.how.source_ohm), found.pad_does_better ? "and" : "but",
      db_text(pad.attenuation_db), db_text(found.loss_db));
}

/// That the limit holds for the values as they are, where it does not for what they may be.
std::string room_sentence(const Flattening& found, const FlattenCommand& options) {
  const double limit_db = options.how.limit_db;
  const double worst_db = std::max(found.tolerance_p95_db, found.variation_db);
  if (!found.reached || found.branches.empty() || worst_db <= limit_db) return "";
  return fmt::format(
      "These values keep the limit of {} on this earphone; with the tolerance of the parts or "
      "another specimen the span may reach {}. A lower --limit-db leaves room for that.\n",
      db_text(limit_db), db_text(worst_db));
}

/// The lines of a chain file that put the written network in.
std::string stage_lines(const std::string& file) {
  const std::string kind = is_two_port_name(file) ? "two-port" : "circuit";
  return "[[stage]]\nkind = \"" + kind + "\"\nfile = " + toml_quoted(file) + "\n";
}

std::string use_text(const Flattening& found, const FlattenCommand& options) {
  if (!options.write || found.branches.empty()) return "";
  const std::string file = std::filesystem::path(*options.write).filename().string();
  return "\nTo try it, put it into a chain file beside it, behind the source:\n\n" +
         stage_lines(file);
}

/// As a circuit file; its first lines say how a chain takes it.
std::string network_text(const Circuit& network, const std::string& place) {
  std::string comment = "# Across the earphone. In a chain file:\n";
  const std::string lines = stage_lines(std::filesystem::path(place).filename().string());
  for (std::size_t at = 0; at < lines.size();) {
    const std::size_t end = lines.find('\n', at);
    comment += "#   " + lines.substr(at, end - at) + "\n";
    at = end + 1;
  }
  return comment + circuit_text(network);
}

/// The resistance that --source stands for: of what is no resistance, the largest |Z| in the band,
/// with a note.
double largest_source_ohm(const FlattenCommand& options, const Band& known,
                          std::vector<std::string>& warnings) {
  const TheveninSource source = read_source(options.source);
  append_new(warnings, source.warnings);
  const Band band = overlap(overlap(options.grid.band, known), source.output.range());
  const ComplexArray z = source.output.at(log_grid(band, options.how.points));
  const double ohm = z.abs().maxCoeff();
  if ((z - z[0]).abs().maxCoeff() > 1e-9 * ohm || std::abs(z[0].imag()) > 1e-9 * ohm)
    warnings.push_back(
        fmt::format("{} is no resistance: taken as one of {}, its largest |Z| in the band; "
                    "`deviation` with the "
                    "network in a chain gives it exactly",
                    printable(source.label), ohm_text(ohm)));
  return ohm;
}

std::string flatten_text(const Flattening& found, const FlattenCommand& options,
                         const Earphone& earphone) {
  std::string text =
      printable(earphone.title) + ", any source up to " + ohm_text(options.how.source_ohm) + "\n\n";
  if (found.branches.empty())
    return text + (found.reached
                       ? fmt::format("The earphone alone keeps the limit, with a span of {}; no "
                                     "network is needed.\n",
                                     db_text(found.span_before_db))
                       : fmt::format("No network of these parts lowers the span of {}, which "
                                     "exceeds the limit of {}.\n",
                                     db_text(found.span_before_db), db_text(options.how.limit_db)));
  text += fmt::format(
      "{} across the terminals bring{} the span (largest minus smallest deviation) from {} to "
      "{}{}\n{}",
      found.branches.size() == 1 ? "One branch"
                                 : std::to_string(found.branches.size()) + " branches",
      found.branches.size() == 1 ? "s" : "", db_text(found.span_before_db),
      db_text(found.span_after_db),
      found.reached ? "." : ", which exceeds the limit of " + db_text(options.how.limit_db) + ".",
      branches_table(found));
  Rows rows{{"", "before", "after"}};
  rows.push_back({"lowest |Z|", ohm_text(found.min_ohm_before), ohm_text(found.min_ohm_after)});
  rows.push_back({"largest current, relative to the earphone alone", "100 %",
                  percent_text(100 * found.extra_current_ratio)});
  rows.push_back({"span", db_text(found.span_before_db), db_text(found.span_after_db)});
  rows.push_back(
      {fmt::format("  with parts of {} % (95 %)", number_text(options.how.tolerance_percent)), "",
       db_text(found.tolerance_p95_db)});
  rows.push_back({fmt::format("  with an earphone {} % higher or lower",
                              number_text(options.how.variation_percent)),
                  "", db_text(found.variation_db)});
  return text + "\n" + aligned(rows) + room_sentence(found, options) +
         pad_sentence(found, options) + use_text(found, options);
}

CsvTable flatten_csv(const Flattening& found) {
  CsvTable table;
  table.add("frequency_hz", found.hz);
  table.add("before_ohm", found.before_ohm.abs());
  table.add("after_ohm", found.after_ohm.abs());
  return table;
}

plots::FlattenFigure flatten_figure(const Flattening& found, const FlattenCommand& options,
                                    const Earphone& earphone) {
  plots::FlattenFigure figure;
  figure.earphone_title = earphone.title;
  figure.conclusion =
      fmt::format("{} branch{}: span {} instead of {} up to {}", found.branches.size(),
                  found.branches.size() == 1 ? "" : "es", db_text(found.span_after_db),
                  db_text(found.span_before_db), ohm_text(options.how.source_ohm));
  figure.caption = fmt::format("Lowest |Z| {} instead of {}; coils of {} ohm per henry",
                               ohm_text(found.min_ohm_after), ohm_text(found.min_ohm_before),
                               number_text(options.how.coil_ohm_per_henry));
  figure.frequency_hz = found.hz;
  figure.before_ohm = found.before_ohm.abs();
  figure.after_ohm = found.after_ohm.abs();
  figure.least_ohm = found.least_ohm;
  figure.source_ohm = found.source_ohm;
  figure.before_db = found.over_source_before_db;
  figure.after_db = found.over_source_after_db;
  figure.limit_db = options.how.limit_db;
  return figure;
}

/// A two-port at the frequencies that `deviation` asks unless told otherwise.
std::string written_text(const Circuit& network, const FlattenCommand& options) {
  if (!is_two_port_name(*options.write)) return network_text(network, *options.write);
  return two_port_text(
      sampled_two_port(network, "in", "out", options.grid.band, GridOptions().points));
}

Answer answer(const FlattenCommand& given) {
  Answer result;
  const auto earphone = std::make_shared<const Earphone>(read_earphone(given.earphone));
  add_bias_cautions(result, {read_source(given.source)}, *earphone);
  result.warnings = earphone->warnings;
  FlattenCommand options = given;
  FlattenOptions& how = options.how;
  how.band = options.grid.band;
  how.points = options.grid.points;
  refuse_stock_and_series(options.stock.has_value(), options.series.has_value());
  if (options.series) how.resistors = how.coils_and_capacitors = parse_series(*options.series);
  if (options.stock) how.stock = read_stock(*options.stock);
  how.coils = !options.no_coils;
  how.source_ohm = largest_source_ohm(options, earphone->impedance.range(), result.warnings);
  const auto found = std::make_shared<const Flattening>(flatten(*earphone, how));
  result.text = flatten_text(*found, options, *earphone);
  result.csv = flatten_csv(*found);
  result.limit_exceeded = !found->reached;
  std::optional<Circuit> network;
  if (!found->branches.empty())
    network =
        flatten_circuit(found->branches, how.tolerance_percent, "Network for " + earphone->title);
  result.json = flatten_json(*found, options, *earphone, network);
  if (options.write && !network)
    result.warnings.push_back("no network is written to " + printable(*options.write) +
                              ": there is none");
  if (options.write && network)
    result.documents.emplace_back(*options.write, written_text(*network, options));
  if (options.parts && network)
    result.documents.emplace_back(*options.parts, parts_csv(listed_parts(*network)));
  result.draw = [found, options, earphone](const plots::Output& output) {
    plots::draw(flatten_figure(*found, options, *earphone), output);
  };
  return result;
}

}  // namespace

void add_flatten(Command& program, Session& session) {
  auto options = std::make_shared<FlattenCommand>();
  Command& command = *program.add_subcommand(
      "flatten", "A network across the earphone that evens out its impedance");
  command.footer(
      "Example:  ohmtilt flatten impedance-curves/two-way-armature.csv --source 10 --limit-db 1 "
      "--write network.circuit.toml\n"
      "The fewest branches (resistor, coil and capacitor in series, or fewer of them) that keep "
      "the "
      "span within the limit behind every resistive source up to --source. The span is the largest "
      "minus the smallest deviation from an ideal source. One branch is the best that the parts "
      "give, with up to a million combinations; more branches are sought step by step.");
  add_earphone_argument(command, options->earphone);
  FlattenOptions& how = options->how;
  command
      .add_option("--source", options->source,
                  "the largest source there will be: ohm, code, curve or chain file [10]")
      ->type_name("SOURCE");
  command.add_number("--limit-db", how.limit_db, {.unit = "DB"},
                     "limit of the span; exit status 1 when exceeded");
  command.add_number("--branches", how.branches,
                     {.unit = "N", .least = 1, .most = 6, .whole = true}, "at most this many");
  command.add_number("--least-ohm", how.least_ohm,
                     {.unit = "OHM", .otherwise = "half of the earphone's lowest |Z|"},
                     "lowest impedance allowed");
  add_stock_options(command, options->series, options->stock);
  command.add_flag("--no-coils", options->no_coils, "resistors and capacitors only");
  command.add_number("--largest-henry", how.largest_henry, {.unit = "HENRY"},
                     "largest coil to use");
  command.add_number("--largest-farad", how.largest_farad, {.unit = "FARAD"},
                     "largest capacitor to use");
  command.add_number("--least-worth-db", how.least_worth_db, {.unit = "DB"},
                     "leave out a part that lowers the span by less");
  command.add_number("--coil-ohm-per-henry", how.coil_ohm_per_henry, {.unit = "OHM"},
                     "own resistance of a coil, per henry, where it is not known (common practice, "
                     "no source)");
  command.add_number("--tolerance", how.tolerance_percent, {.unit = "PERCENT"},
                     "of each part, percent (common practice, no source)");
  command.add_number("--variation", how.variation_percent, {.unit = "PERCENT"},
                     "of the earphone, percent (common practice, no source)");
  add_samples_option(command, how.samples, "random draws of the parts");
  add_seed_option(command, how.seed);
  command
      .add_option("--write", options->write,
                  "write the network as a circuit file, which a chain takes as a stage of the kind "
                  "circuit, or as a two-port (.s2p)")
      ->type_name("FILE");
  add_parts_option(command, options->parts);
  options->grid.points = options->how.points;
  add_grid_options(command, options->grid);
  add_output_options(command, options->output);
  command.callback([options, &session] {
    respond(session, options->output, "flatten", [&] { return answer(*options); });
  });
}

}  // namespace ohmtilt::cli
