// ohmtilt report: one page that says all of a chain on its earphones.
#include <fmt/format.h>

#include <ohmtilt/chain/read_chain.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/inputs_read.h>
#include <ohmtilt/text/text.h>
#include <ohmtilt/text/warnings.h>
#include <tools/ohmtilt/commands/live.h>
#include <tools/ohmtilt/live/given.h>
#include <tools/ohmtilt/live/template.h>
#include <tools/ohmtilt/program/command.h>
#include <tools/ohmtilt/program/progress.h>
#include <tools/ohmtilt/report/page.h>

#include <cmath>
#include <memory>

namespace ohmtilt::cli {
namespace {

struct ReportCommand {
  ReportFiles files;
  std::string page, title, date;
  HeadroomOptions headroom;
  std::optional<double> limit_db;  // exit 1 beyond it
  bool live = false;
  std::optional<std::string> live_template;
  GridOptions grid;
  OutputOptions output;
};

constexpr double usual_limit_db = 1;

ReportOptions how_of(const ReportCommand& options) {
  ReportOptions how;
  how.headroom = options.headroom;
  how.title = trimmed(options.title);
  how.date = trimmed(options.date);
  how.comparison.limit_db = options.limit_db.value_or(usual_limit_db);
  if (!(*how.comparison.limit_db > 0 && std::isfinite(*how.comparison.limit_db)))
    throw InputError("a limit of " + number_text(*options.limit_db) + " dB is not allowed",
                     "give a positive number of decibels");
  how.comparison.band = how.headroom.band = options.grid.band;
  how.comparison.points = how.headroom.points = options.grid.points;
  how.comparison.anchor = options.grid.anchor;
  return how;
}

Json gaps_json(const std::vector<Gap>& gaps) {
  Json list = Json::array();
  for (const auto& gap : gaps) list.push_back(valid_utf8(sentence(gap)));
  return list;
}

Json merits_json(const Merits& merits) {
  return {{"hiss_over_threshold_db", json_number(merits.hiss_over_threshold_db)},
          {"travel_percent", json_number(merits.travel_percent)},
          {"imbalance_db", json_number(merits.imbalance_db)},
          {"headroom_db", json_number(merits.headroom_db)},
          {"separation_db", json_number(merits.separation_db)}};
}

Json earphone_json(const EarphoneFindings& found) {
  const Deviation& d = found.compared().deviation;
  const auto& interval = found.compared().interval;
  const auto& largest = found.comparison.largest_source;
  const auto& apart = found.crosstalk ? found.crosstalk->result.worst : std::nullopt;
  return {{"title", valid_utf8(found.title())},
          {"file", valid_utf8(found.file)},
          {"level_change_db", d.level_change_db},
          {"rise", extreme_json(d.rise)},
          {"fall", extreme_json(d.fall)},
          {"span_db", d.span_db},
          {"whole_95_db", interval ? interval->whole_95_db : 0},
          {"largest_source", {{"limit_db", largest->limit_db}, {"ohm", json_number(largest->ohm)}}},
          {"headroom_db",
           found.headroom ? json_number(found.headroom->result.target.headroom_db) : Json(nullptr)},
          {"hiss_dba", found.hiss ? json_number(found.hiss->result.level_dba) : Json(nullptr)},
          {"separation_db", apart ? json_number(apart->db) : Json(nullptr)},
          {"before", merits_json(merits_before(found))},
          {"after", merits_json(merits_after(found))},
          {"not_given", gaps_json(found.gaps)}};
}

Json report_json(const ReportFindings& report, const std::string& page) {
  Json json{{"page", valid_utf8(page)},
            {"chain", valid_utf8(report.chain.title())},
            {"against", valid_utf8(report.against.title())},
            {"reference_hz", anchor_json(report.how.comparison.anchor)},
            {"earphones", Json::array()},
            {"other_sources", Json::array()},
            {"other_span_db", Json::array()},
            {"unreadable", Json::array()},
            {"not_given", gaps_json(report.gaps)}};
  for (const auto& source : report.others.sources)
    json["other_sources"].push_back({{"label", source.label}, {"output_ohm", source.output_ohm}});
  for (const auto& row : report.others.rows) {
    json["other_span_db"].push_back(Json::array());
    for (const auto& cell : row.cells)
      json["other_span_db"].back().push_back(json_number(cell.deviation.span_db()));
  }
  for (const auto& one : report.left_out)
    json["unreadable"].push_back(
        {{"file", valid_utf8(one.file)}, {"error", valid_utf8(one.error)}});
  for (const auto& found : report.earphones) json["earphones"].push_back(earphone_json(found));
  return json;
}

std::string report_text(const ReportFindings& report, const std::string& page) {
  std::string text = fmt::format("{} instead of {}\n\n", printable(report.chain.title()),
                                 printable(report.against.title()));
  for (const auto& found : report.earphones)
    text += fmt::format("{}\n{}\n{}\n\n", printable(found.title()), conclusion(found.compared()),
                        largest_source_text(found.comparison));
  for (const auto& one : report.left_out) text += "Left out: " + one.error + "\n";
  return text + "The page: " + printable(page) + "\n";
}

// The part that its reader moves.

/// Stages that attenuate, out (tools/live/source_spec.h).
std::string without_attenuation_spec(const std::string& name, const Chain& chain) {
  std::string spec = "file " + name;
  for (std::size_t i = 0; i < chain.stages().size(); ++i) {
    const Stage& stage = chain.stages()[i];
    if (std::holds_alternative<Pad>(stage) || std::holds_alternative<VolumeStage>(stage))
      spec += fmt::format(" | {} off", i + 1);
  }
  return spec.find('|') == std::string::npos ? "0" : spec;
}

LivePart live_part(const ReportCommand& options, const LiveTemplate& live,
                   const ReportFindings& report, std::size_t read_before) {
  const auto read = inputs_read();
  const GivenFiles files({read.begin() + static_cast<std::ptrdiff_t>(read_before), read.end()});
  LiveGiven given;
  given.title = printable(report.chain.title());
  for (const auto& found : report.earphones) {
    given.earphones.push_back(found.path);
    given.titles.push_back(found.title());
  }
  for (const auto& source : {options.files.chain, options.files.against.value_or("")})
    if (!source.empty() && is_there(source)) append_new(given.sources, {source});
  given.to = spec_of(options.files.chain, files);
  given.limit_db = options.limit_db.value_or(usual_limit_db);
  if (options.files.against)
    given.from = spec_of(*options.files.against, files);
  else
    given.from = is_there(options.files.chain)
                     ? without_attenuation_spec(files.name(options.files.chain), report.chain)
                     : "0";
  return live.part({given.title, {}, given_json(given, files)});
}

Answer answer(const ReportCommand& options, const Session& session) {
  check_page_name(options.page);
  if (options.live_template && !options.live)
    throw InputError("--live-template is for --live", "give both, or none");
  std::optional<LiveTemplate> live_template;
  if (options.live) live_template.emplace(options.live_template);
  const std::size_t before = inputs_read().size();
  ReportOptions how = how_of(options);
  how.progress = progress_line(session, "report");
  const ReportFindings report = report_findings(options.files, how);
  Answer given;
  given.text = report_text(report, options.page);
  given.json = report_json(report, options.page);
  append_new(given.cautions, report.hazards);
  append_new(given.cautions, report.cautions);
  given.warnings = report.warnings;
  std::optional<LivePart> live;
  if (live_template) live = live_part(options, *live_template, report, before);
  ReportPage page = report_page(report, live ? &*live : nullptr);
  given.documents.emplace_back(options.page, std::move(page.html));
  if (!page.missing.empty()) given.failures.push_back("the page has no figures: " + page.missing);
  for (const auto& found : report.earphones) {
    if (!options.limit_db || !(found.span_db() > *options.limit_db)) continue;
    given.limit_exceeded = true;
    given.text += exceeds_text("On " + printable(found.title()) + " the span", found.span_db(),
                               *options.limit_db) +
                  ".\n";
  }
  return given;
}

void add_options(Command& command, ReportCommand& options) {
  command.add_option("chain", options.files.chain, "chain file, or a number of ohms")->required();
  command
      .add_option("earphones", options.files.earphones,
                  "curves, circuits or earphone files, or folders of them")
      ->required();
  command.add_option("-o,--output", options.page, "the page to write, such as report.html")
      ->required()
      ->type_name("FILE");
  add_against_option(command, options.files.against,
                     "to compare with [the same without its pads and volume stages]");
  command.add_option("--title", options.title, "of the page [what is compared]")
      ->type_name("TITLE");
  command
      .add_option("--date", options.date, "a date to stand under the title, as you write it [none]")
      ->type_name("DATE");
  add_limit_option(command, options.limit_db,
                   "limit of the span [1]; if you give it, exit status 1 when exceeded");
  add_programme_options(command, options.headroom);
  command.add_flag("--live", options.live,
                   "add what `ohmtilt live` shows: its reader moves the source");
  add_template_option(command, "--live-template", options.live_template, "the live page");
  add_grid_options(command, options.grid);
  add_anchor_option(command, options.grid);
  command.add_flag("--json", options.output.json, "print one JSON object instead of text");
  command.add_flag("--force", options.output.force, "replace files that exist");
}

}  // namespace

void add_report(Command& program, Session& session) {
  auto options = std::make_shared<ReportCommand>();
  Command& command = *program.add_subcommand(
      "report",
      "One page to publish or print: everything a chain does to each earphone, conclusion first");
  command.footer(
      "Example:  ohmtilt report impedance-curves/attenuator-engaged.chain.toml "
      "impedance-curves/two-way-armature.earphone.toml -o report.html\n"
      "The earphone that changes most comes first. From a folder it reads what `survey` reads. "
      "The page needs no other file, no network and no script; with --live its last part does "
      "need script. It lists missing data and the keys "
      "to add.");
  add_options(command, *options);
  command.callback([options, &session] {
    respond(session, options->output, "report", [&] { return answer(*options, session); });
  });
}

}  // namespace ohmtilt::cli
