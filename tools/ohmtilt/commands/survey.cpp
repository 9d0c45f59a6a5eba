// ohmtilt survey: which earphones of a folder are sensitive to their source?
#include <fmt/format.h>

#include <ohmtilt/analysis/survey.h>
#include <ohmtilt/chain/bias.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <ohmtilt/text/warnings.h>
#include <tools/ohmtilt/commands/survey_answer.h>
#include <tools/ohmtilt/program/chain_input.h>
#include <tools/ohmtilt/program/command.h>
#include <tools/ohmtilt/program/input_lists.h>
#include <tools/ohmtilt/program/progress.h>
#include <tools/ohmtilt/program/wording.h>
#include <algorithm>
#include <cmath>
#include <memory>

namespace ohmtilt::cli {
namespace {

using Path = std::filesystem::path;

constexpr std::size_t most_cells = 3'000'000;  // within 1 GB of memory in all forms of the answer

struct SurveyCommand {
  std::vector<std::string> folders;
  std::string sources;
  std::vector<std::string> chains;
  std::string from = "0";
  const SurveyQuantity* quantity = survey_quantities()[0].second;
  std::optional<double> largest_db;  // 1 without a limit either
  std::optional<double> limit_db;    // exit 1 beyond it
  GridOptions grid;
  OutputOptions output;
};

std::vector<TheveninSource> sources_of(const SurveyCommand& options) {
  std::vector<TheveninSource> sources;
  if (!options.sources.empty() || options.chains.empty())
    sources =
        read_sources({options.sources.empty() ? usual_sources : options.sources}, "--sources");
  for (auto& chain : read_sources(options.chains, "--chains")) sources.push_back(std::move(chain));
  return sources;
}

/// "impedance-curves", or "3 places".
std::string origin_of(const std::vector<std::string>& folders) {
  if (folders.size() > 1) return std::to_string(folders.size()) + " places";
  Path folder = Path(folders.front()).lexically_normal();
  if (!folder.has_filename()) folder = folder.parent_path();
  const std::string name = folder.filename().string();
  return name.empty() || name == "." ? "this folder" : valid_utf8(name);
}

void refuse_if_nothing_was_read(const Surveyed& found) {
  if (!found.survey.rows.empty()) return;
  const std::size_t count = found.survey.failures.size();
  throw InputError(count == 1 ? found.survey.failures.front().error
                              : fmt::format("none of the {} files could be used; the first: {}",
                                            count, found.survey.failures.front().error),
                   "`ohmtilt inspect FILE` says more on one curve");
}

void check_size(std::size_t earphones, std::size_t sources) {
  if (earphones * sources <= most_cells) return;
  throw InputError(
      fmt::format("{} earphones against {} sources are too many for one table", earphones, sources),
      fmt::format("give at most {} sources, or fewer earphones at a time",
                  std::max<std::size_t>(most_cells / earphones, 1)));
}

/// Of the column of highest output impedances: what is asked for, or the limit that is checked.
double largest_db(const SurveyCommand& options) {
  if (options.largest_db) return *options.largest_db;
  return options.limit_db && *options.limit_db > 0 ? *options.limit_db : 1;
}

SurveyOptions how_of(const SurveyCommand& options, const Session& session) {
  if (options.limit_db && !(*options.limit_db >= 0 && std::isfinite(*options.limit_db)))
    throw InputError(number_text(*options.limit_db) + " dB is not allowed for --limit-db",
                     "give a number of decibels, 0 or more");
  SurveyOptions how;
  how.band = options.grid.band;
  how.points = options.grid.points;
  how.anchor = options.grid.anchor;
  how.limit_db = largest_db(options);
  how.q_changes = options.quantity->name == "q-change";
  how.progress = progress_line(session, "survey");
  return how;
}

/// Of the sources, and of the earphones whose drivers need a bias.
std::vector<std::string> bias_of(const Surveyed& found, const TheveninSource& from,
                                 const std::vector<TheveninSource>& to) {
  std::vector<std::string> cautions;
  const auto note = [&](const TheveninSource& source) {
    if (const auto text = bias_note(source))
      append_new(cautions, {"with " + printable(source.label) + ", " + *text});
  };
  note(from);
  for (const auto& source : to) note(source);
  for (const auto& row : found.survey.rows) append_new(cautions, row.cautions);
  return cautions;
}

/// "The span of 17.1 dB, the largest, exceeds the limit of 3 dB."
void check_limit(const Survey& survey, double limit_db, Answer& answer) {
  const SurveyRow* worst = nullptr;
  for (const auto& row : survey.rows)
    if (!worst || row.largest_span_db() > worst->largest_span_db()) worst = &row;
  if (!worst || !(worst->largest_span_db() > limit_db)) return;
  answer.limit_exceeded = true;
  answer.text += exceeds_text("The largest span", worst->largest_span_db(), limit_db) + ".\n";
}

Answer answer(const SurveyCommand& options, const Session& session) {
  const SurveyOptions how = how_of(options, session);
  const auto [from, to] = read_compared(options.from, sources_of(options));
  const auto files = earphone_paths(options.folders);
  check_size(files.size(), to.size());
  const auto read = [&files](std::size_t place) { return read_earphone(files[place]); };
  const auto found = std::make_shared<const Surveyed>(
      Surveyed{files, origin_of(options.folders), options.grid, *options.quantity,
               survey(files.size(), read, from, to, how), how.limit_db});
  refuse_if_nothing_was_read(*found);

  Answer result;
  result.text = survey_text(*found);
  result.json = survey_json(*found);
  result.warnings = survey_warnings(*found);
  result.csv = survey_csv(*found);
  result.draw = [found](const plots::Output& output) {
    plots::draw(survey_figure(*found), output);
  };
  result.cautions = bias_of(*found, from, to);
  if (options.limit_db) check_limit(found->survey, *options.limit_db, result);
  return result;
}

void add_own_options(Command& command, SurveyCommand& options) {
  command.add_option("folder", options.folders, "folders of earphones, or single files")
      ->required();
  command
      .add_option("--sources", options.sources,
                  std::string("the sources, with commas between: ohms, codes or files [") +
                      usual_sources + "]")
      ->type_name("LIST");
  command.add_option("--chains", options.chains, "chain files, as further sources")
      ->type_name("FILE");
  add_from_option(command, options.from);
  command.add_choice("--quantity", options.quantity, survey_quantities(),
                     "what the table and the figure hold; q-change is slow");
  command.add_number("--largest-source", options.largest_db,
                     {.unit = "DB", .otherwise = "that of --limit-db, or 1"},
                     "of each earphone, the highest output impedance that keeps the span within "
                     "this many dB");
  add_limit_option(command, options.limit_db, "exit with 1 if a span exceeds this many dB");
}

}  // namespace

void add_survey(Command& program, Session& session) {
  auto options = std::make_shared<SurveyCommand>();
  Command& command = *program.add_subcommand(
      "survey", "Every earphone of a folder against every source: which ones are sensitive to it");
  command.footer(
      "Example:  ohmtilt survey impedance-curves --sources 0.3,1,3,6,10,30,120 --plot survey.svg\n"
      "From a folder it reads each *.earphone.toml, and the curves and *.circuit.toml that no "
      "other "
      "file there names. A file that cannot be read is listed and does not stop the rest.");
  add_own_options(command, *options);
  add_grid_options(command, options->grid);
  add_anchor_option(command, options->grid);
  add_output_options(command, options->output);
  command.callback([options, &session] {
    respond(session, options->output, "survey", [&] { return answer(*options, session); });
  });
}

}  // namespace ohmtilt::cli
