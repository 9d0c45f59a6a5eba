#include <fmt/format.h>

#include <ohmtilt/analysis/level/headroom_cautions.h>
#include <ohmtilt/chain/bias.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/program/input_lists.h>
#include <tools/ohmtilt/report/findings.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <filesystem>
#include <map>

namespace ohmtilt::cli {
namespace {

std::string file_name(const std::string& path) {
  return printable(std::filesystem::path(path).filename().string());
}

// ---- what is not given -------------------------------------------------------------------------

bool has_voltage(const Chain& chain) {
  return chain.source().open_volt || !chain.source().power.empty();
}

std::vector<Gap> chain_gaps(const Chain& chain, const std::string& file) {
  const Source& source = chain.source();
  const bool has_file = file.ends_with(".toml");
  const std::string place =
      " to [source] of " + (has_file ? file : "a chain file, written in place of " + file);
  std::vector<Gap> gaps;
  if (!has_voltage(chain))
    gaps.push_back({Topic::level, "how loud it plays and what limits it",
                    "add `open_volt` or [[source.power]] points" + place});
  else if (!source.max_ampere && source.power.empty())
    gaps.push_back({Topic::level, "whether the amplifier's current is the first limit",
                    "add `max_ampere`" + place});
  if (!source.input_volt || !source.volume)
    gaps.push_back({Topic::level, "where the volume control stands",
                    "add `input_volt` and [source.volume]" + place});
  if (!source.noise_volt)
    gaps.push_back({Topic::hiss, "how much the amplifier hisses", "add `noise_volt`" + place});
  if (!crosstalk_is_known(chain))
    gaps.push_back(
        {Topic::channels, "crosstalk",
         "add `shared_return_ohm`" + place + " (amplifier and jack) or to a cable stage"});
  return gaps;
}

/// Both need it.
void add_sensitivity_gaps(const std::string& file, std::vector<Gap>& gaps) {
  const std::string add =
      "add `sensitivity_db_per_volt` or `sensitivity_db_per_milliwatt` to " + file;
  gaps.push_back({Topic::level, "how loud the earphone plays", add});
  gaps.push_back({Topic::hiss, "whether hiss is heard", add});
}

std::vector<Gap> earphone_gaps(const Earphone& earphone, const std::string& named) {
  const bool has_file = named.ends_with(".toml");
  const std::string file = has_file ? named : "an earphone file over " + named;
  std::vector<Gap> gaps;
  if (!earphone.response)
    gaps.push_back({Topic::response, "the response before and after",
                    "add `response` and `response_source_ohm` to " + file});
  if (earphone.phase == PhaseOrigin::minimum)
    gaps.push_back({Topic::response, "the measured phase of the impedance",
                    "give the curve a `phase_deg` column; until then the phase is computed"});
  if (earphone.curve && earphone.curve->notes().condition.empty())
    gaps.push_back({Topic::response, "how the curve was taken",
                    "give it a line `# condition: ...` (free air, ear simulator, worn)"});
  if (!earphone.sensitivity) add_sensitivity_gaps(file, gaps);
  if (!earphone.max_watt)
    gaps.push_back(
        {Topic::level, "what power the earphone is rated for", "add `max_watt` to " + file});
  if (!earphone.rated_ohm)
    gaps.push_back({Topic::decay, "the rated damping factor", "add `rated_ohm` to " + file});
  return gaps;
}

// ---- the analyses ------------------------------------------------------------------------------

/// What work() finds, or a gap that says why it does not.
template <class Work>
auto attempted(const Work& work, const Gap& otherwise, std::vector<Gap>& gaps)
    -> std::optional<decltype(work())> {
  try {
    return work();
  } catch (const InputError& error) {
    gaps.push_back({otherwise.topic, otherwise.unknown, printable(error.what(), 400)});
    return std::nullopt;
  }
}

DampingFound damping_found(const Earphone& earphone, const ReportFindings& report) {
  DampingFound found{damping_earphone(earphone, report.how.comparison.band), {}, {}};
  for (const Chain* chain : {&report.against, &report.chain})
    found.sources.push_back(damping_source(thevenin_source(*chain)));
  DampingOptions how;
  how.band = report.how.comparison.band;
  how.points = report.how.comparison.points;
  how.locus = true;
  found.damping = damping(found.earphone, found.sources, how);
  return found;
}

/// The chain on this earphone, and what it is compared with where that says enough.
ChainInput input_of(const ReportFindings& report, const Earphone& earphone, bool with_against) {
  ChainInput input{report.chain, earphone, {}, {}};
  if (with_against) input.against = report.against;
  return input;
}

void find_levels(const ReportFindings& report, EarphoneFindings& found) {
  if (!found.earphone.sensitivity) return;
  if (has_voltage(report.chain))
    found.headroom = attempted(
        [&] {
          return ask(input_of(report, found.earphone, has_voltage(report.against)),
                     report.how.headroom, headroom);
        },
        {Topic::level, "how loud it plays", ""}, found.gaps);
  if (report.chain.source().noise_volt)
    found.hiss = attempted(
        [&] {
          const bool both = report.against.source().noise_volt.has_value();
          return ask(input_of(report, found.earphone, both), HissOptions(), hiss);
        },
        {Topic::hiss, "whether hiss is heard", ""}, found.gaps);
}

void find_crosstalk(const ReportFindings& report, EarphoneFindings& found) {
  if (!crosstalk_is_known(report.chain)) return;
  CrosstalkOptions how;
  how.band = report.how.comparison.band;
  how.points = report.how.comparison.points;
  found.crosstalk = attempted(
      [&] {
        const bool both = crosstalk_is_known(report.against);
        return ask(input_of(report, found.earphone, both), how, crosstalk);
      },
      {Topic::channels, "crosstalk", ""}, found.gaps);
}

std::vector<std::string> level_cautions(const Chain& chain, const EarphoneFindings& found,
                                        const Headroom& headroom) {
  return headroom_cautions(found.earphone,
                           drive(chain, found.earphone, found.comparison.grid.grid_hz), headroom);
}

/// Of a bias voltage, where there is one.
std::vector<std::string> bias_of(const Chain& chain, const EarphoneFindings& found) {
  return bias_cautions({thevenin_source(chain)}, found.earphone);
}

/// What is true of the compared chain only bears its name.
void find_cautions(const ReportFindings& report, EarphoneFindings& found) {
  found.hazards = bias_of(report.chain, found);
  if (!report.against.file().empty())  // an ideal source states no bias
    append_of_other(found.hazards, report.against, bias_of(report.against, found));
  if (!found.headroom) return;
  append_new(found.cautions, level_cautions(report.chain, found, found.headroom->result));
  if (found.headroom->against)
    append_of_other(found.cautions, report.against,
                    level_cautions(report.against, found, *found.headroom->against));
}

std::vector<std::string> warnings_of(const EarphoneFindings& found) {
  std::vector<std::string> warnings;
  append_new(warnings, found.comparison.warnings);
  if (found.damping) append_new(warnings, found.damping->damping.warnings);
  if (found.headroom) append_new(warnings, found.headroom->warnings());
  if (found.hiss) append_new(warnings, found.hiss->warnings());
  if (found.crosstalk) append_new(warnings, found.crosstalk->warnings());
  return warnings;
}

void collect_warnings(ReportFindings& report) {
  report.hazards = said_once(report, [](const auto& found) { return found.hazards; });
  report.cautions = said_once(report, [](const auto& found) { return found.cautions; });
  append_new(report.warnings, said_once(report, warnings_of));
}

// ---- the earphones -----------------------------------------------------------------------------

constexpr std::size_t most_earphones = 200;  // on one page that a browser opens well

struct ReadEarphone {
  std::string path;
  Earphone earphone;
};

/// What work(path) does for each, in order; a file of a folder that it throws InputError for is
/// left out.
template <class Work>
void for_each_file(const std::vector<std::string>& named, const std::vector<std::string>& paths,
                   std::vector<LeftOut>& left_out, const Work& work) {
  for (const auto& path : paths) try {
      work(path);
    } catch (const InputError& error) {
      if (std::find(named.begin(), named.end(), path) != named.end()) throw;
      left_out.push_back({path, error.what()});
    }
}

std::vector<ReadEarphone> read_earphones(const ReportFiles& files, std::vector<LeftOut>& left_out) {
  std::vector<std::string> paths;
  for (const auto& path : earphone_paths(files.earphones)) paths.push_back(path.string());
  if (paths.size() > most_earphones)
    throw InputError(std::to_string(paths.size()) + " earphones are too many for one page",
                     "give at most " + std::to_string(most_earphones) +
                         ", or take `ohmtilt survey` for all of them");
  std::vector<ReadEarphone> read;
  for_each_file(files.earphones, paths, left_out, [&](const std::string& path) {
    read.push_back({path, read_earphone(path)});
  });
  return read;
}

/// Earphones of one title get what tells them apart behind it: the file, and its folder where that
/// is the same too.
void tell_apart(std::vector<ReadEarphone>& read) {
  std::map<std::string, int> titles, names;
  for (const auto& one : read) {
    ++titles[one.earphone.title];
    ++names[one.earphone.title + "\n" + file_name(one.path)];
  }
  for (auto& one : read) {
    std::string& title = one.earphone.title;
    if (titles[title] == 1) continue;
    const auto folder = std::filesystem::path(one.path).parent_path();
    const bool same_name = names[title + "\n" + file_name(one.path)] > 1;
    title += fmt::format(" [{}{}]", same_name ? file_name(folder.string()) + "/" : "",
                         file_name(one.path));
  }
}

EarphoneFindings earphone_findings(const ReadEarphone& read, const ReportFindings& report) {
  EarphoneFindings found{
      file_name(read.path), read.path, read.earphone, {}, {}, {}, {}, {}, {}, {}, {}};
  found.comparison = compare_sources(found.earphone, thevenin_source(report.against),
                                     {thevenin_source(report.chain)}, report.how.comparison);
  found.gaps = earphone_gaps(found.earphone, found.file);
  found.damping = attempted([&] { return damping_found(found.earphone, report); },
                            {Topic::decay, "how the resonances decay", ""}, found.gaps);
  find_levels(report, found);
  find_crosstalk(report, found);
  find_cautions(report, found);
  return found;
}

void find_earphones(const ReportFiles& files, ReportFindings& report) {
  auto read = read_earphones(files, report.left_out);
  tell_apart(read);
  std::map<std::string, const ReadEarphone*> by_path;
  std::vector<std::string> paths;
  for (const auto& one : read) {
    by_path[one.path] = &one;
    paths.push_back(one.path);
  }
  for_each_file(files.earphones, paths, report.left_out, [&](const std::string& path) {
    report.earphones.push_back(earphone_findings(*by_path.at(path), report));
    const double part =
        static_cast<double>(report.earphones.size()) / static_cast<double>(paths.size());
    if (report.how.progress) report.how.progress(part / 2);  // the figures take as long
  });
  if (report.earphones.empty())
    throw InputError(fmt::format("none of the {} files could be used; the first: {}",
                                 report.left_out.size(), report.left_out.front().error),
                     "`ohmtilt inspect FILE` says more on one curve");
  std::stable_sort(report.earphones.begin(), report.earphones.end(),
                   [](const EarphoneFindings& a, const EarphoneFindings& b) {
                     return a.span_db() > b.span_db();
                   });
}

/// A row an earphone: each was compared already, so none fails here.
Survey surveyed_sources(const ReportFindings& report) {
  const ComparisonOptions& like = report.how.comparison;
  SurveyOptions how;
  how.band = like.band;
  how.points = like.points;
  how.anchor = like.anchor;
  how.limit_db = like.limit_db.value_or(how.limit_db);
  Survey others = survey(
      report.earphones.size(), [&](std::size_t i) { return report.earphones[i].earphone; },
      thevenin_source(report.against), read_sources({usual_sources}, "--sources"), how);
  if (!others.failures.empty())
    throw InputError(others.failures.front().error, "leave that earphone out");
  return others;
}

void note_left_out(ReportFindings& report) {
  for (const auto& one : report.left_out)
    report.warnings.push_back("left out, because it could not be used: " + file_name(one.file) +
                              " (`ohmtilt inspect` says more on a curve)");
}

// ---- what it is compared with ------------------------------------------------------------------

Chain titled(const Chain& chain, const std::string& title) {
  return Chain(title, chain.source(), chain.stages(), chain.file());
}

struct Alternative {
  Chain chain;
  std::string why;
};

Alternative alternative(const ReportFiles& files, const Chain& chain,
                        std::vector<std::string>& warnings) {
  if (files.against)
    return {read_warned_chain(*files.against, warnings),
            "The chain that it is compared with was given: " + file_name(*files.against) + "."};
  const Chain bare = without_attenuation(chain);
  if (bare.stages().size() < chain.stages().size())
    return {titled(bare, "no attenuation"),
            "It is compared with the same chain without its pads and volume stages."};
  return {Chain("an ideal source of 0 ohm", Source(), {}),
          "The chain has no pad that could be left out, so it is compared with an ideal source of "
          "0 ohm."};
}

}  // namespace

std::string of_earphone(const ReportFindings& report, const EarphoneFindings& found,
                        const std::string& text) {
  return report.earphones.size() > 1 ? printable(found.title()) + ": " + text : text;
}

std::vector<std::string> said_once(
    const ReportFindings& report,
    const std::function<std::vector<std::string>(const EarphoneFindings&)>& texts_of) {
  std::map<std::string, std::vector<std::string>> earphones_with;
  std::vector<std::string> texts;
  for (const auto& found : report.earphones)
    for (const auto& text : texts_of(found)) {
      auto& titles = earphones_with[text];
      if (titles.empty()) texts.push_back(text);
      append_new(titles, {printable(found.title())});
    }
  for (auto& text : texts) {
    const auto& titles = earphones_with[text];
    if (titles.size() < report.earphones.size()) text = listed(titles) + ": " + text;
  }
  return texts;
}

namespace {

/// Of one analysis each: its own result or the one that it is compared with.
Merits merits(const Hiss* hiss, const Headroom* headroom, const Crosstalk* crosstalk) {
  Merits merits;
  if (hiss != nullptr && std::isfinite(hiss->over_threshold_db))
    merits.hiss_over_threshold_db = hiss->over_threshold_db;
  if (headroom != nullptr) {
    merits.headroom_db = headroom->target.headroom_db;
    if (!headroom->gain.empty()) {
      merits.travel_percent = headroom->gain.front().travel_percent;
      if (const auto& imbalance = headroom->gain.front().imbalance)
        merits.imbalance_db = imbalance->db;
    }
  }
  if (crosstalk != nullptr && crosstalk->worst) merits.separation_db = crosstalk->worst->db;
  return merits;
}

template <class Found>
auto own(const std::optional<Found>& found) {
  return found ? &found->result : nullptr;
}

template <class Found>
auto other(const std::optional<Found>& found) {
  return found && found->against ? &*found->against : nullptr;
}

}  // namespace

Merits merits_before(const EarphoneFindings& found) {
  return merits(other(found.hiss), other(found.headroom), other(found.crosstalk));
}

Merits merits_after(const EarphoneFindings& found) {
  return merits(own(found.hiss), own(found.headroom), own(found.crosstalk));
}

std::string sentence(const Gap& gap) {
  std::string text = gap.unknown;
  text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
  return text + " is not known: " + gap.add + ".";
}

ReportFindings report_findings(const ReportFiles& files, const ReportOptions& how) {
  check(how.headroom);
  std::vector<std::string> warnings;
  Chain chain = read_warned_chain(files.chain, warnings);
  Alternative other = alternative(files, chain, warnings);
  tell_apart(chain, other.chain);
  ReportFindings report{file_name(files.chain),
                        std::move(chain),
                        std::move(other.chain),
                        other.why,
                        how,
                        {},
                        {},
                        {},
                        {},
                        {},
                        {},
                        std::move(warnings)};
  report.gaps = chain_gaps(report.chain, report.file);
  find_earphones(files, report);
  report.others = surveyed_sources(report);
  note_left_out(report);
  collect_warnings(report);
  return report;
}

}  // namespace ohmtilt::cli
