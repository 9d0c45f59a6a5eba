// ohmtilt live: a page that answers for any source while its reader moves it.
#include <fmt/format.h>

#include <ohmtilt/chain/bias.h>
#include <ohmtilt/chain/earphone.h>
#include <ohmtilt/chain/read_chain.h>
#include <ohmtilt/chain/thevenin_source.h>
#include <ohmtilt/chain/toml_content.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/inputs_read.h>
#include <ohmtilt/text/text.h>
#include <ohmtilt/text/warnings.h>
#include <plots/inline_svg.h>
#include <tools/ohmtilt/commands/deviation.h>
#include <tools/ohmtilt/commands/live.h>
#include <tools/ohmtilt/live/given.h>
#include <tools/ohmtilt/live/template.h>
#include <tools/ohmtilt/program/command.h>
#include <tools/ohmtilt/program/input_lists.h>
#include <tools/ohmtilt/report/page.h>

#include <algorithm>
#include <cmath>
#include <memory>

namespace ohmtilt::cli {
namespace {

constexpr std::size_t most_earphones_of_page = 200;

struct LiveCommand {
  std::vector<std::string> places;
  std::string page, title, from = "0", to = "6";
  std::optional<std::string> page_template;
  double limit_db = 1;
  OutputOptions output;
};

/// What the words of the command line are.
struct Named {
  std::vector<std::string> chains;     ///< files
  std::vector<std::string> numbers;    ///< resistances to compare
  std::vector<std::string> earphones;  ///< files
};

bool is_folder(const std::string& place) {
  std::error_code code;
  return std::filesystem::is_directory(place, code);
}

}  // namespace

bool is_there(const std::string& place) {
  std::error_code code;
  return std::filesystem::exists(place, code);
}

std::string spec_of(const std::string& source, const GivenFiles& files) {
  return is_there(source) ? "file " + files.name(source) : source;
}

namespace {

bool is_chain(const std::string& place) {
  return !is_folder(place) && is_toml_name(place) &&
         content_of(read_toml(place)) == TomlContent::chain;
}

Named named(const std::vector<std::string>& places) {
  Named found;
  std::vector<std::string> others;
  for (const auto& place : places) {
    if (!is_there(place))
      found.numbers.push_back(place);
    else
      (is_chain(place) ? found.chains : others).push_back(place);
  }
  for (const auto& number : found.numbers) read_source(number);  // refuses what is neither
  if (others.empty())
    throw InputError("there is no earphone for the page",
                     "name curves, circuits, earphone files, or a folder of them");
  for (const auto& file : earphone_paths(others)) found.earphones.push_back(file.string());
  if (found.earphones.size() > most_earphones_of_page)
    throw InputError(std::to_string(found.earphones.size()) + " earphones are too many for a page",
                     "give at most " + std::to_string(most_earphones_of_page));
  return found;
}

/// An earphone of the page.
struct Carried {
  std::string file;
  Earphone earphone;
};

std::vector<Carried> read_carried(const LiveCommand& options, const Named& named,
                                  std::vector<std::string>& warnings) {
  std::vector<Carried> read;
  for (const auto& file : named.earphones) try {
      read.push_back({file, read_earphone(file)});
    } catch (const InputError& error) {
      const auto& places = options.places;
      if (std::find(places.begin(), places.end(), file) != places.end()) throw;
      warnings.push_back(std::string("left out: ") + error.what());
    }
  if (read.empty())
    throw InputError("none of the earphones can be read", "see the notes before this one");
  return read;
}

// What the page starts with.

Comparison compared(const Earphone& earphone, const LiveCommand& options) {
  const auto [from, to] = read_compared(options.from, {read_source(options.to)});
  ComparisonOptions how;
  how.limit_db = options.limit_db;
  return compare_sources(earphone, from, to, how);
}

Markup sentences(const Earphone& earphone, const Comparison& found) {
  return heading(2,
                 fmt::format("{}: {} instead of {}", printable(earphone.title),
                             printable(found.cases.front().label), printable(found.from_label))) +
         paragraph(conclusion(found.cases.front())) + paragraph(largest_source_text(found));
}

/// Nothing, and a note, where it cannot be drawn.
Markup figure(const Earphone& earphone, const Comparison& found,
              std::vector<std::string>& warnings) {
  plots::PageFigure page_figure{"start", conclusion(found.cases.front()),
                                plots::sheet_of(figure_of(earphone, found))};
  try {
    return element("figure", Markup::written_here(plots::inline_svgs({page_figure}).front()));
  } catch (const OutputError& error) {
    warnings.push_back(std::string("the page has no figure for readers without script: ") +
                       error.what());
    return {};
  }
}

Markup start_of(const std::vector<Carried>& read, const LiveCommand& options,
                std::vector<std::string>& warnings) {
  Markup start;
  for (const auto& one : read) {
    try {
      const Comparison found = compared(one.earphone, options);
      start += sentences(one.earphone, found);
      if (&one == &read.front()) start += figure(one.earphone, found, warnings);
    } catch (const InputError& error) {
      warnings.push_back(printable(one.earphone.title) + ": " + error.what());
    }
  }
  return start;
}

// The command.

void check(const LiveCommand& options) {
  check_page_name(options.page);
  if (!(options.limit_db > 0 && std::isfinite(options.limit_db)))
    throw InputError("a limit of " + number_text(options.limit_db) + " dB leaves no room",
                     "give a positive number of decibels");
}

std::string title_of(const LiveCommand& options, const std::vector<Carried>& read) {
  if (!options.title.empty()) return printable(options.title);
  return read.size() == 1 ? printable(read.front().earphone.title) + " behind any source"
                          : fmt::format("{} earphones behind any source", read.size());
}

/// What a chain's file leaves to be said, and its bias voltage before all.
void add_chain_notes(const std::string& file, Answer& answer) {
  const auto read = read_chain(file);
  append_new(answer.warnings, read.warnings);
  const TheveninSource source = thevenin_source(read.value);
  if (const auto bias = bias_note(source))
    append_new(answer.cautions, {"with " + printable(source.label) + ", " + *bias});
}

Answer answer(const LiveCommand& options) {
  check(options);
  const LiveTemplate page_template(options.page_template);
  const std::size_t before = inputs_read().size();
  const Named words = named(options.places);
  Answer given;
  const std::vector<Carried> read = read_carried(options, words, given.warnings);
  for (const auto& chain : words.chains) add_chain_notes(chain, given);
  LivePage page{title_of(options, read), start_of(read, options, given.warnings), {}};
  const auto all_read = inputs_read();
  const GivenFiles files({all_read.begin() + static_cast<std::ptrdiff_t>(before), all_read.end()});
  LiveGiven live{page.title,
                 {},
                 {},
                 words.chains,
                 spec_of(options.from, files),
                 spec_of(options.to, files),
                 words.numbers,
                 options.limit_db};
  for (const auto& source : {options.from, options.to})
    if (is_there(source)) append_new(live.sources, {source});
  for (const auto& one : read) {
    live.earphones.push_back(one.file);
    live.titles.push_back(one.earphone.title);
  }
  page.given = given_json(live, files);
  std::string html = page_template.filled(page);
  given.json = {{"page", valid_utf8(options.page)},
                {"bytes", html.size()},
                {"earphones", files.names_json(live.earphones)},
                {"sources", files.names_json(live.sources)}};
  given.text = fmt::format("The page: {} ({:.2f} MB, with {} file{})\n", printable(options.page),
                           static_cast<double>(html.size()) * 1e-6, files.count(),
                           files.count() == 1 ? "" : "s");
  given.documents.emplace_back(options.page, std::move(html));
  return given;
}

void add_own_options(Command& command, LiveCommand& options) {
  command
      .add_option(
          "places", options.places,
          "chain files and ohms to choose from, then curves, circuits or earphone files, or "
          "folders of them")
      ->required();
  command.add_option("-o,--output", options.page, "the page to write, such as live.html")
      ->required()
      ->type_name("FILE");
  command.add_option("--from", options.from, "the source that the page starts from [0]")
      ->type_name("SOURCE");
  command.add_option("--to", options.to, "the source that it starts with instead [6]")
      ->type_name("SOURCE");
  command.add_number("--limit-db", options.limit_db, {.unit = "DB"},
                     "limit of the span that it starts with");
  command.add_option("--title", options.title, "of the page [the earphones]")->type_name("TITLE");
  add_template_option(command, "--template", options.page_template, "the page");
  command.add_flag("--json", options.output.json, "print one JSON object instead of text");
  command.add_flag("--force", options.output.force, "replace files that exist");
}

}  // namespace

void add_live(Command& program, Session& session) {
  auto options = std::make_shared<LiveCommand>();
  Command& command = *program.add_subcommand(
      "live",
      "One page whose reader moves the source and sees the answer, with nothing to install");
  command.footer(
      "Example:  ohmtilt live impedance-curves/attenuator-engaged.chain.toml impedance-curves -o "
      "live.html\n"
      "The page computes with this library, compiled to WebAssembly, in any browser of today; it "
      "needs no other file, no network and no server, and sends nothing. Every file that was read "
      "is in it, by its name without the folders above. A file of a folder that cannot be read is "
      "left out.\n"
      "Its reader can also measure an earphone there, with a sound card of two line inputs and a "
      "resistor: the page shows wiring and cautions first, says each step, and gives curve files. "
      "Where the browser gives it no sound, it takes WAV files that were recorded elsewhere.");
  add_own_options(command, *options);
  command.callback([options, &session] {
    respond(session, options->output, "live", [&] { return answer(*options); });
  });
}

}  // namespace ohmtilt::cli
