// ohmtilt crosstalk: how much of one channel reaches the other through what they share.
#include <fmt/format.h>

#include <ohmtilt/base/error.h>
#include <ohmtilt/base/text.h>
#include <tools/ohmtilt/chain_input.h>
#include <tools/ohmtilt/command.h>
#include <tools/ohmtilt/crosstalk.h>
#include <tools/ohmtilt/wording.h>
#include <algorithm>
#include <cmath>
#include <memory>

namespace ohmtilt::cli {
namespace {

struct Options {
  ChainFiles files;
  std::string idle = "driven", wires = "3";
  GridOptions grid;
  OutputOptions output;
};

Json found_json(const Crosstalk& crosstalk) {
  Json json{{"frequency_hz", json_array(crosstalk.hz)},
            {"separation_db", json_array(crosstalk.separation_db)},
            {"worst", nullptr}};
  if (crosstalk.worst) json["worst"] = {{"hz", crosstalk.worst->hz}, {"db", crosstalk.worst->db}};
  return json;
}

std::string worst_text(const std::optional<Separation>& worst) {
  return worst ? fmt::format("{:.1f} dB at {}", worst->db, hz_text(worst->hz))
               : std::string("nothing crosses over in the leads");
}

}  // namespace

std::string conclusion(const Crosstalk& crosstalk) {
  if (!crosstalk.worst) return "Nothing crosses over between the channels in this circuit";
  return "The channels are apart by at least " + worst_text(crosstalk.worst);
}

std::string how_text(const CrosstalkOptions& how) {
  return fmt::format("{} wires, idle channel {}", how.wires,
                     how.idle_driven ? "driven to 0 V" : "unplugged");
}

Rows separation_rows(const CrosstalkFound& found) {
  const Crosstalk& crosstalk = found.result;
  Rows rows;
  if (crosstalk.worst) rows.push_back({"best", db_text(crosstalk.separation_db.maxCoeff())});
  rows.push_back({"smallest separation", worst_text(crosstalk.worst)});
  if (!found.input.chain.source().balanced) {
    if (found.how.wires == 3)
      rows.push_back({"the same with four wires", worst_text(crosstalk.four_wire_worst)});
    rows.push_back({"with a balanced connection", "no return is shared"});
  }
  return rows;
}

namespace {

std::string found_text(const CrosstalkFound& found) {
  return fmt::format("{} on {}\n{}; {}.\n\n", printable(found.input.chain.title()),
                     printable(found.input.earphone.title), conclusion(found.result),
                     how_text(found.how)) +
         aligned(separation_rows(found));
}

CsvTable found_csv(const Crosstalk& crosstalk) {
  CsvTable table;
  table.add("frequency_hz", crosstalk.hz);
  table.add("separation_db", crosstalk.separation_db);
  return table;
}

}  // namespace

plots::CrosstalkFigure figure_of(const CrosstalkFound& found) {
  plots::CrosstalkFigure figure;
  figure.title = conclusion(found.result);
  figure.subtitle = found.input.chain.title() + " on " + found.input.earphone.title;
  figure.caption = "Both channels through equal chains; " + how_text(found.how);
  figure.label = std::to_string(found.how.wires) + " wires";
  figure.frequency_hz = found.result.hz;
  figure.separation_db = found.result.separation_db;
  if (found.how.wires == 3) figure.four_wire_db = found.result.four_wire_db;
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

Answer answer(const Options& options) {
  const CrosstalkOptions how = how_of(options);
  const auto found =
      std::make_shared<const CrosstalkFound>(ask(read_chain_input(options.files), how, crosstalk));
  Answer given;
  given.warnings = found->warnings();
  given.text = found_text(*found);
  given.json = found_json(found->result);
  given.csv = found_csv(found->result);
  given.draw = [found](const plots::Output& output) { plots::draw(figure_of(*found), output); };
  return given;
}

}  // namespace

void add_crosstalk(CLI::App& program, Session& session) {
  auto options = std::make_shared<Options>();
  CLI::App& command = *program.add_subcommand(
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
  add_grid_options(command, options->grid);
  add_output_options(command, options->output);
  command.callback([options, &session] {
    respond(session, options->output, "crosstalk", [&] { return answer(*options); });
  });
}

}  // namespace ohmtilt::cli
