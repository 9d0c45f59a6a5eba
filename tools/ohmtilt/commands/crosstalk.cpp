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

struct CrosstalkCommand {
  ChainFiles files;
  CrosstalkOptions how;
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
                    : std::string("no crosstalk in the leads");
}

Separation largest_of(const Crosstalk& crosstalk) {
  Eigen::Index at = 0;
  const double db = crosstalk.separation_db.maxCoeff(&at);
  return {crosstalk.hz[at], db};
}

/// A step of how much crosstalk matters: a separation of at least that much is called so. Common
/// practice, no source.
struct SeparationStep {
  double least_db;
  const char* weight;
};
constexpr std::array<SeparationStep, 4> separation_steps{
    {{40, "probably inaudible"},
     {25, "small, audible at most when the other channel is silent"},
     {15, "audible in direct comparison: the stereo image narrows a little"},
     {-std::numeric_limits<double>::infinity(), "audible: the stereo image narrows"}}};

}  // namespace

std::string separation_down(double db) {
  return db > 0 ? significant_down(db) : fmt::format("{:.1f}", std::floor(db * 10) / 10);
}

const char* separation_weight(double separation_db) {
  return std::find_if(separation_steps.begin(), separation_steps.end() - 1,
                      [&](const SeparationStep& step) { return separation_db >= step.least_db; })
      ->weight;
}

std::string conclusion(const Chain& chain, const Crosstalk& crosstalk) {
  if (!crosstalk_is_known(chain))
    return "Crosstalk is unknown: the chain states no return that both channels share";
  if (!crosstalk.worst) return "There is no crosstalk between the channels in this circuit";
  return fmt::format("Channel separation is {} dB or more (lowest at {}): crosstalk is {}",
                     separation_down(crosstalk.worst->db), hz_text(crosstalk.worst->hz),
                     separation_weight(crosstalk.worst->db));
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
    rows.push_back({"largest channel separation", separation_text(largest_of(crosstalk))});
  rows.push_back({"smallest channel separation", separation_text(crosstalk.worst)});
  if (!found.input.chain.source().balanced) {
    if (found.how.wires == 3)
      rows.push_back({"smallest with four wires", separation_text(crosstalk.four_wire_worst)});
    rows.push_back({"with a balanced connection", "no return is shared"});
  }
  return rows;
}

namespace {

std::string against_text(const CrosstalkFound& found) {
  if (!found.against) return "";
  const auto& other = found.against->worst;
  const std::string change =
      found.result.worst && other
          ? fmt::format(" ({:+.1f} dB)", tenths(other->db - found.result.worst->db))
          : std::string();
  return fmt::format("Against {}: {}{}.\n", printable(found.input.against->title()),
                     conclusion(*found.input.against, *found.against), change);
}

std::string found_text(const CrosstalkFound& found) {
  return fmt::format("{} behind {}\n{} ({}).\n\n", printable(found.input.earphone.title),
                     printable(found.input.chain.title()),
                     conclusion(found.input.chain, found.result), how_text(found.how)) +
         aligned(separation_rows(found)) +
         (crosstalk_is_known(found.input.chain)
              ? "Verdict by common practice, no source: steps at 40, 25 and 15 dB.\n"
              : "") +
         against_text(found);
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
                       : "Crosstalk is unknown: no shared return is stated";
  figure.subtitle = subtitle(found.input.chain.title(), found.input.earphone.title);
  figure.caption = "Both channels through equal chains; " + how_text(found.how);
  figure.label = std::to_string(found.how.wires) + " wires";
  figure.nothing = known ? "no crosstalk" : "unknown: no shared_return_ohm";
  figure.frequency_hz = found.result.hz;
  figure.separation_db = found.result.separation_db;
  if (found.against) {
    figure.label = found.input.chain.short_name();
    figure.against_label = found.input.against->short_name();
    figure.against_hz = found.against->hz;
    figure.against_db = found.against->separation_db;
  } else if (found.how.wires == 3) {
    figure.four_wire_db = found.result.four_wire_db;
  }
  figure.magnitude_ohm = found.input.earphone.impedance.at(found.result.hz).abs();
  return figure;
}

namespace {

CrosstalkOptions how_of(const CrosstalkCommand& options) {
  CrosstalkOptions how = options.how;
  how.band = options.grid.band;
  how.points = options.grid.points;
  return how;
}

/// What is not known cannot be checked.
void check_limit(const CrosstalkCommand& options, const CrosstalkFound& found, Answer& given) {
  if (!options.limit_db) return;
  if (!crosstalk_is_known(found.input.chain))
    throw InputError("--limit-db cannot be checked: " + printable(options.files.chain) +
                         " states no shared return",
                     "add `shared_return_ohm` to [source] or to a cable stage");
  const auto& worst = found.result.worst;
  if (worst && worst->db < *options.limit_db)
    exceed(given, fmt::format("{} dB of channel separation at {}, at least {} dB asked",
                              beyond_text(worst->db, *options.limit_db, 1), hz_text(worst->hz),
                              number_text(*options.limit_db)));
}

Answer answer(const CrosstalkCommand& options) {
  const CrosstalkOptions how = how_of(options);
  const auto found =
      std::make_shared<const CrosstalkFound>(ask(read_chain_input(options.files), how, crosstalk));
  Answer given;
  add_bias_cautions(given, found->input);
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
  auto options = std::make_shared<CrosstalkCommand>();
  Command& command = *program.add_subcommand(
      "crosstalk", "Channel separation, and crosstalk through the return that both channels share");
  command.footer(
      "Example:  ohmtilt crosstalk impedance-curves/three-wire-cable.chain.toml "
      "impedance-curves/two-way-armature.earphone.toml --plot crosstalk.svg\n"
      "The chain says shared_return_ohm in [source] (amplifier, jack and contact) and in its "
      "cable; 0 joins the two returns there.\n"
      "Verdict by common practice, no source: crosstalk is probably inaudible from 40 dB up, small "
      "from 25 dB, audible in direct comparison from 15 dB.");
  add_chain_arguments(command, options->files, "curve, circuit or earphone file");
  command.add_choice<bool>("--idle", options->how.idle_driven, {{"driven", true}, {"open", false}},
                           "the idle channel: driven (held at 0 V by its amplifier) or open");
  command.add_choice<int>("--wires", options->how.wires, {{"3", 3}, {"4", 4}},
                          "3: the cable's return is common; 4: each channel has its own");
  add_against_option(command, options->files.against, "to compare with");
  add_limit_option(command, options->limit_db,
                   "exit with 1 if the channel separation is less than this many dB");
  add_grid_options(command, options->grid);
  add_output_options(command, options->output);
  command.callback([options, &session] {
    respond(session, options->output, "crosstalk", [&] { return answer(*options); });
  });
}

}  // namespace ohmtilt::cli
