// ohmtilt crosstalk: how much of one channel reaches the other through what they share.
#include <fmt/format.h>

#include <ohmtilt/analysis/crosstalk.h>
#include <ohmtilt/base/error.h>
#include <ohmtilt/base/text.h>
#include <ohmtilt/chain/read_chain.h>
#include <plots/crosstalk_figure.h>
#include <tools/ohmtilt/command.h>
#include <tools/ohmtilt/wording.h>
#include <algorithm>
#include <cmath>
#include <memory>

namespace ohmtilt::cli {
namespace {

struct Options {
  std::string chain, earphone;
  std::string idle = "driven", wires = "3";
  GridOptions grid;
  OutputOptions output;
};

struct Found {
  Chain chain;
  Earphone earphone;
  CrosstalkOptions how;
  Crosstalk crosstalk;
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

std::string conclusion(const Crosstalk& crosstalk) {
  if (!crosstalk.worst) return "Nothing crosses over between the channels in this circuit";
  return "The channels are apart by at least " + worst_text(crosstalk.worst);
}

std::string how_text(const CrosstalkOptions& how) {
  return fmt::format("{} wires, idle channel {}", how.wires,
                     how.idle_driven ? "driven to 0 V" : "unplugged");
}

std::string found_text(const Found& found) {
  const Crosstalk& crosstalk = found.crosstalk;
  const Chain& chain = found.chain;
  std::vector<std::vector<std::string>> rows;
  if (crosstalk.worst) rows.push_back({"best", db_text(crosstalk.separation_db.maxCoeff())});
  rows.push_back({"smallest separation", worst_text(crosstalk.worst)});
  if (!chain.source().balanced) {
    if (found.how.wires == 3)
      rows.push_back({"the same with four wires", worst_text(crosstalk.four_wire_worst)});
    rows.push_back({"with a balanced connection", "no return is shared"});
  }
  return fmt::format("{} on {}\n{}; {}.\n\n", printable(chain.title()),
                     printable(found.earphone.title), conclusion(crosstalk), how_text(found.how)) +
         aligned(rows);
}

CsvTable found_csv(const Crosstalk& crosstalk) {
  CsvTable table;
  table.add("frequency_hz", crosstalk.hz);
  table.add("separation_db", crosstalk.separation_db);
  return table;
}

plots::CrosstalkFigure found_figure(const Found& found) {
  plots::CrosstalkFigure figure;
  figure.title = conclusion(found.crosstalk);
  figure.subtitle = found.chain.title() + " on " + found.earphone.title;
  figure.caption = "Both channels through equal chains; " + how_text(found.how);
  figure.label = std::to_string(found.how.wires) + " wires";
  figure.frequency_hz = found.crosstalk.hz;
  figure.separation_db = found.crosstalk.separation_db;
  if (found.how.wires == 3) figure.four_wire_db = found.crosstalk.four_wire_db;
  figure.magnitude_ohm = found.earphone.impedance.at(found.crosstalk.hz).abs();
  return figure;
}

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
  auto chain = read_any_chain(options.chain);
  Earphone earphone = read_earphone(options.earphone);
  Crosstalk result = crosstalk(chain.value, earphone, how);
  const auto found = std::make_shared<const Found>(
      Found{std::move(chain.value), std::move(earphone), how, std::move(result)});
  Answer given;
  given.warnings = chain.warnings;
  for (const auto* more : {&found->earphone.warnings, &found->crosstalk.warnings})
    given.warnings.insert(given.warnings.end(), more->begin(), more->end());
  given.text = found_text(*found);
  given.json = found_json(found->crosstalk);
  given.csv = found_csv(found->crosstalk);
  given.draw = [found](const plots::Output& output) { plots::draw(found_figure(*found), output); };
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
  command.add_option("chain", options->chain, "chain file")->required();
  command.add_option("earphone", options->earphone, "curve, circuit or earphone file")->required();
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
