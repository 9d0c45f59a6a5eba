// ohmtilt survey: which earphones of a folder are sensitive to their source?
#include <fmt/format.h>

#include <ohmtilt/analysis/survey.h>
#include <ohmtilt/base/error.h>
#include <ohmtilt/base/text.h>
#include <ohmtilt/chain/earphone_folder.h>
#include <tools/ohmtilt/command.h>
#include <tools/ohmtilt/progress.h>
#include <tools/ohmtilt/survey_answer.h>
#include <algorithm>
#include <cmath>
#include <memory>
#include <set>

namespace ohmtilt::cli {
namespace {

using Path = std::filesystem::path;

constexpr std::size_t most_sources = 1000;
constexpr std::size_t most_cells = 3'000'000;  // within 1 GB of memory in all forms of the answer

struct Options {
  std::vector<std::string> folders;
  std::string sources;
  std::vector<std::string> chains;
  std::string from = "0";
  std::string quantity = "span";
  double largest_db = 1;
  std::optional<double> limit_db;  // exit 1 beyond it
  GridOptions grid;
  OutputOptions output;
};

constexpr const char* usual_sources = "0.3,1,3,6,10,30,120";

std::vector<std::string> split_list(const std::string& list) {
  std::vector<std::string> items;
  for (std::size_t start = 0; start <= list.size();) {
    const std::size_t end = std::min(list.find(',', start), list.size());
    items.emplace_back(trimmed(list.substr(start, end - start)));
    if (items.back().empty())
      throw InputError("--sources \"" + printable(list) + "\" has an empty place",
                       "give sources with commas between: 0.3,1,6");
    start = end + 1;
  }
  return items;
}

std::vector<TheveninSource> sources_of(const Options& options) {
  std::vector<std::string> texts;
  if (!options.sources.empty() || options.chains.empty())
    texts = split_list(options.sources.empty() ? usual_sources : options.sources);
  texts.insert(texts.end(), options.chains.begin(), options.chains.end());
  if (texts.size() > most_sources)
    throw InputError(std::to_string(texts.size()) + " sources are too many for one table",
                     "give at most " + std::to_string(most_sources));
  std::vector<TheveninSource> sources;
  sources.reserve(texts.size());
  for (const auto& text : texts) sources.push_back(read_source(text));
  return sources;
}

/// The files to read, each once.
std::vector<Path> files_of(const std::vector<std::string>& folders) {
  std::vector<Path> files;
  std::set<Path> known;
  for (const auto& folder : folders) {
    std::error_code code;
    const bool is_file =
        std::filesystem::exists(folder, code) && !std::filesystem::is_directory(folder, code);
    for (Path& file : is_file ? std::vector<Path>{folder} : earphone_files(folder))
      if (known.insert(file.lexically_normal()).second) files.push_back(std::move(file));
  }
  if (!files.empty()) return files;
  throw InputError(printable(folders.front()) + " holds no earphone",
                   "put curves (.csv, .txt, .s1p), *.circuit.toml or *.earphone.toml there");
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

SurveyOptions how_of(const Options& options, const Session& session) {
  if (options.limit_db && !(*options.limit_db >= 0 && std::isfinite(*options.limit_db)))
    throw InputError("--limit-db " + number_text(*options.limit_db) + " is no limit",
                     "give a number of decibels, 0 or more");
  SurveyOptions how;
  how.band = options.grid.band;
  how.points = options.grid.points;
  how.anchor = options.grid.anchor;
  how.limit_db = options.largest_db;
  how.q_changes = options.quantity == "q-change";
  how.progress = progress_line(session, "survey");
  return how;
}

Answer answer(const Options& options, const Session& session) {
  const SurveyQuantity& quantity = survey_quantity(options.quantity);
  const SurveyOptions how = how_of(options, session);
  const TheveninSource from = read_source(options.from);
  const auto to = sources_of(options);
  const auto files = files_of(options.folders);
  check_size(files.size(), to.size());
  const auto read = [&files](std::size_t place) { return read_earphone(files[place]); };
  const auto found = std::make_shared<const Surveyed>(
      Surveyed{files, origin_of(options.folders), options.grid, quantity,
               survey(files.size(), read, from, to, how), options.largest_db});
  refuse_if_nothing_was_read(*found);

  Answer result;
  result.text = survey_text(*found);
  result.json = survey_json(*found);
  result.warnings = survey_warnings(*found);
  result.csv = survey_csv(*found);
  result.draw = [found](const plots::Output& output) {
    plots::draw(survey_figure(*found), output);
  };
  for (const auto& row : found->survey.rows)
    if (options.limit_db && row.largest_span_db() > *options.limit_db) result.limit_exceeded = true;
  return result;
}

void add_own_options(CLI::App& command, Options& options) {
  command.add_option("folder", options.folders, "folders of earphones, or single files")
      ->required();
  command
      .add_option("--sources", options.sources,
                  std::string("the sources, with commas between: ohms, codes or files [") +
                      usual_sources + "]")
      ->type_name("LIST");
  command.add_option("--chains", options.chains, "chain files, as further sources")
      ->type_name("FILE");
  command.add_option("--from", options.from, "the source to compare from, ohm or file [0]")
      ->type_name("SOURCE");
  command
      .add_option("--quantity", options.quantity,
                  "what the table and the figure hold: span, rise, fall, level-change, or q-change "
                  "(slow) [span]")
      ->type_name("NAME");
  command
      .add_option("--largest-source", options.largest_db,
                  "of each earphone, the largest source resistance that keeps the span within this "
                  "many dB [1]")
      ->type_name("DB");
  command.add_option("--limit-db", options.limit_db, "exit with 1 if a span exceeds this many dB")
      ->type_name("DB");
}

}  // namespace

void add_survey(CLI::App& program, Session& session) {
  auto options = std::make_shared<Options>();
  CLI::App& command = *program.add_subcommand(
      "survey", "Every earphone of a folder against every source: which ones are sensitive to it");
  command.footer(
      "Example:  ohmtilt survey impedance-curves --sources 0.3,1,3,6,10,30,120 --plot survey.svg\n"
      "Of a folder it takes each *.earphone.toml, and the curves and *.circuit.toml that no other "
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
