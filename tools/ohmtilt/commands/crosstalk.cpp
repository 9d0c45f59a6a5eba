// ohmtilt crosstalk: how much of one channel reaches the other through what they share.
#include <fmt/format.h>

#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/commands/crosstalk.h>
#include <tools/ohmtilt/program/chain_input.h>
#include <tools/ohmtilt/program/command.h>
#include <tools/ohmtilt/program/wording.h>
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <memory>

namespace ohmtilt::cli {
namespace {

struct Options {
  ChainFiles files;
  std::string idle = "driven", wires = "3";
  std::optional<double> limit_db;  // exit 1 below it
  GridOptions grid;
  OutputOptions output;
};

Json crosstalk_json(const Chain& chain, const Crosstalk& crosstalk) {
  Json json{{"frequency_hz", json_array(crosstalk.hz)},
            {"separation_db", json_array(crosstalk.separation_db)},
            {"worst", nullptr},
            {"known", crosstalk_is_known(chain)}};
  if (crosstalk.worst) json["worst"] = {{"hz", crosstalk.worst->hz}, {"db", crosstalk.worst->db}};
  return json;
}

Json found_json(const CrosstalkFound& found) {
  Json json = crosstalk_json(found.input.chain, found.result);
  if (found.against) json["against"] = crosstalk_json(*found.input.against, *found.against);
  return json;
}

std::string separation_text(const std::optional<Separation>& separation) {
  return separation ? fmt::format("{:.1f} dB at {}", separation->db, hz_text(separation->hz))
                    : std::string("nothing crosses over in the leads");
}

Separation largest_of(const Crosstalk& crosstalk) {
  Eigen::Index at = 0;
  const double db = crosstalk.separation_db.maxCoeff(&at);
  return {crosstalk.hz[at], db};
}

/// A step of how much crosstalk matters: what is apart by at least that much is called so. Common
/// practice, no source.
struct SeparationStep {
  double least_db;
  const char* weight;
};
constexpr std::array<SeparationStep, 4> separation_steps{
    {{40, "too little to be heard"},
     {25, "small: heard at most while the other channel is silent"},
     {15, "the stereo image narrows a little, heard side by side"},
     {-std::numeric_limits<double>::infinity(), "the stereo image narrows"}}};

const char* weight_of(double separation_db) {
  return std::find_if(separation_steps.begin(), separation_steps.end() - 1,
                      [&](const SeparationStep& step) { return separation_db >= step.least_db; })
      ->weight;
}

}  // namespace

std::string conclusion(const Chain& chain, const Crosstalk& crosstalk) {
  if (!crosstalk_is_known(chain))
    return "How far one channel is heard in the other is not known: add `shared_return_ohm` to "
           "[source] (amplifier and jack) or to a cable stage";
  if (!crosstalk.worst) return "Nothing crosses over between the channels in this circuit";
  return fmt::format("The channels are apart by at least {}, {}", separation_text(crosstalk.worst),
                     weight_of(crosstalk.worst->db));
}

std::string how_text(const CrosstalkOptions& how) {
  return fmt::format("{} wires, idle channel {}", how.wires,
                     how.idle_driven ? "driven to 0 V" : "unplugged");
}

Rows separation_rows(const CrosstalkFound& found) {
  const Crosstalk& crosstalk = found.result;
  Rows rows;
  if (!crosstalk_is_known(found.input.chain)) return rows;
  if (crosstalk.worst)
    rows.push_back({"largest separation", separation_text(largest_of(crosstalk))});
  rows.push_back({"smallest separation", separation_text(crosstalk.worst)});
  if (!found.input.chain.source().balanced) {
    if (found.how.wires == 3)
      rows.push_back({"the same with four wires", separation_text(crosstalk.four_wire_worst)});
    rows.push_back({"with a balanced connection", "no return is shared"});
  }
  return rows;
}

namespace {

std::string against_text(const CrosstalkFound& found) {
  if (!found.against) return "";
  const auto& other = found.against->worst;
  const std::string change = found.result.worst && other
                                 ? fmt::format(" ({:+.1f} dB)", other->db - found.result.worst->db)
                                 : std::string();
  return fmt::format("Against {}: {}{}.\n", printable(found.input.against->title()),
                     conclusion(*found.input.against, *found.against), change);
}

std::string found_text(const CrosstalkFound& found) {
  return fmt::format("{} on {}\n{} ({}).\n\n", printable(found.input.chain.title()),
                     printable(found.input.earphone.title),
                     conclusion(found.input.chain, found.result), how_text(found.how)) +
         aligned(separation_rows(found)) + against_text(found);
}

CsvTable found_csv(const CrosstalkFound& found) {
  CsvTable table;
  table.add("frequency_hz", found.result.hz);
  table.add("separation_db", found.result.separation_db);
  if (found.against) {
    table.add("frequency_hz_2", found.against->hz);
    table.add("separation_db_2", found.against->separation_db);
  }
  return table;
}

}  // namespace

plots::CrosstalkFigure figure_of(const CrosstalkFound& found) {
  plots::CrosstalkFigure figure;
  const bool known = crosstalk_is_known(found.input.chain);
  figure.title = known ? conclusion(found.input.chain, found.result)
                       : "How far one channel is heard in the other is not known";
  figure.subtitle = subtitle(found.input.chain.title(), found.input.earphone.title);
  figure.caption = "Both channels through equal chains; " + how_text(found.how);
  figure.label = std::to_string(found.how.wires) + " wires";
  figure.nothing = known ? "nothing crosses over" : "not known: no shared_return_ohm";
  figure.frequency_hz = found.result.hz;
  figure.separation_db = found.result.separation_db;
  if (found.against) {
    figure.label = found.input.chain.title();
    figure.against_label = found.input.against->title();
    figure.against_hz = found.against->hz;
    figure.against_db = found.against->separation_db;
  } else if (found.how.wires == 3) {
    figure.four_wire_db = found.result.four_wire_db;
  }
  figure.magnitude_ohm = found.input.earphone.impedance.at(found.result.hz).abs();
  return figure;
}

namespace {

CrosstalkOptions how_of(const Options& options) {
  CrosstalkOptions how;
  how.band = options.grid.band;
  how.points = options.grid.points;
  if (options.idle != "driven" && options.idle != "open")
    throw InputError("--idle \"" + printable(options.idle) + "\" is not known",
                     "say driven (held at 0 V) or open (unplugged)");
  how.idle_driven = options.idle == "driven";
  if (options.wires != "3" && options.wires != "4")
    throw InputError("--wires \"" + printable(options.wires) + "\" is not known",
                     "say 3 (a common return) or 4 (a return of its own for each channel)");
  how.wires = options.wires == "3" ? 3 : 4;
  return how;
}

/// What is not known cannot be checked.
void check_limit(const Options& options, const CrosstalkFound& found, Answer& given) {
  if (!options.limit_db) return;
  if (!crosstalk_is_known(found.input.chain))
    throw InputError("--limit-db cannot be checked: " + printable(options.files.chain) +
                         " states no shared return",
                     "add `shared_return_ohm` to [source] or to a cable stage");
  const auto& worst = found.result.worst;
  if (worst && worst->db < *options.limit_db)
    exceed(given, fmt::format("{} apart, at least {} dB asked", separation_text(worst),
                              number_text(*options.limit_db)));
}

Answer answer(const Options& options) {
  const CrosstalkOptions how = how_of(options);
  const auto found =
      std::make_shared<const CrosstalkFound>(ask(read_chain_input(options.files), how, crosstalk));
  Answer given;
  given.warnings = found->warnings();
  given.text = found_text(*found);
  given.json = found_json(*found);
  given.csv = found_csv(*found);
  given.draw = [found](const plots::Output& output) { plots::draw(figure_of(*found), output); };
  check_limit(options, *found, given);
  return given;
}

}  // namespace

void add_crosstalk(Command& program, Session& session) {
  auto options = std::make_shared<Options>();
  Command& command = *program.add_subcommand(
      "crosstalk", "How far one channel is heard in the other through the return they share");
  command.footer(
      "Example:  ohmtilt crosstalk impedance-curves/three-wire-cable.chain.toml "
      "impedance-curves/two-way-armature.earphone.toml --plot crosstalk.svg\n"
      "The chain says shared_return_ohm in [source] (amplifier, jack and contact) and in its "
      "cable.");
  command.add_option("chain", options->files.chain, "chain file")->required();
  command.add_option("earphone", options->files.earphone, "curve, circuit or earphone file")
      ->required();
  command
      .add_option("--idle", options->idle,
                  "the idle channel: driven (held at 0 V by its amplifier) or open [driven]")
      ->type_name("driven|open");
  command
      .add_option("--wires", options->wires,
                  "3: the cable's return is common; 4: each channel has its own [3]")
      ->type_name("3|4");
  add_against_option(command, options->files.against, "side by side");
  add_limit_option(command, options->limit_db,
                   "exit with 1 if the channels are apart by less than this many dB");
  add_grid_options(command, options->grid);
  add_output_options(command, options->output);
  command.callback([options, &session] {
    respond(session, options->output, "crosstalk", [&] { return answer(*options); });
  });
}

}  // namespace ohmtilt::cli
