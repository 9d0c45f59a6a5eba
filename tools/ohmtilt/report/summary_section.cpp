#include <fmt/format.h>
#include <fmt/ranges.h>

#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/commands/survey_answer.h>
#include <tools/ohmtilt/report/sections.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace ohmtilt::cli {
namespace {

/// A name and what is to be said of it, where there is anything.
void add_finding(const char* name, const std::string& text, Markup& list) {
  if (text.empty()) return;
  list += element("dt", words(name)) + element("dd", words(text));
}

std::string level_text(const Comparison& comparison) {
  if (comparison.grid.anchor_hz.size() == 0) return "";
  const Deviation& d = comparison.cases.front().deviation;
  return fmt::format("{} {}; responses {}.", db_text(std::abs(d.level_change_db)),
                     d.level_change_db < 0 ? "softer" : "louder",
                     anchor_text(comparison.grid.anchor));
}

std::string full_stop(const std::string& text) { return text.empty() ? text : text + "."; }

Markup findings_list(const EarphoneFindings& found) {
  Markup list;
  if (found.comparison.largest_source)
    add_finding("Sources", largest_source_text(found.comparison), list);
  add_finding("Level", level_text(found.comparison), list);
  if (found.damping) add_finding("Decay", conclusion(*found.damping), list);
  if (found.headroom)
    add_finding("Loudness", full_stop(conclusion(found.headroom->result.target)), list);
  if (found.hiss) add_finding("Hiss", full_stop(conclusion(found.hiss->result)), list);
  if (found.crosstalk)
    add_finding("Channels",
                full_stop(conclusion(found.crosstalk->input.chain, found.crosstalk->result)), list);
  return list.empty() ? list : element("dl", list);
}

Markup card(const EarphoneFindings& found, std::size_t index) {
  const double span_db = found.compared().deviation.span_db;
  const Markup name =
      element("a", {{"href", "#" + earphone_anchor(index)}}, words(printable(found.title())));
  const Markup span = element("p", {{"class", "span"}},
                              element("strong", words(db_text(span_db))) + words(" span"));
  return element("article",
                 element("h3", name) + span + span_scale(span_db) +
                     element("p", {{"class", "lead"}}, words(conclusion(found.compared()))) +
                     findings_list(found));
}

/// What is said of the first group of earphones, of one or of more, and of a further one; in the
/// order of span_steps().
struct GroupWords {
  const char *one, *several, *further;
};
constexpr std::array<GroupWords, 4> group_words{
    {{"{} of {} earphones changes too little to be audible, probably",
      "{} of {} earphones change too little to be audible, probably",
      "on {} it is probably inaudible"},
     {"On {} of {} earphones the change is just audible in direct comparison",
      "On {} of {} earphones the change is just audible in direct comparison",
      "on {} it is just audible in direct comparison"},
     {"On {} of {} earphones the change of tonal balance is audible",
      "On {} of {} earphones the change of tonal balance is audible",
      "on {} the change of tonal balance is audible"},
     {"{} of {} earphones changes clearly in character",
      "{} of {} earphones change clearly in character", ""}}};

/// "One", "2", "3".
std::string count_text(std::ptrdiff_t count, bool at_start) {
  return count == 1 && at_start ? "One" : std::to_string(count);
}

/// "One of 6 earphones changes clearly in character; on 3 the change of tonal balance is audible":
/// the gravest first.
std::string verdicts(const ReportFindings& report) {
  const auto& steps = span_steps();
  const auto all = report.earphones.size();
  std::vector<std::string> texts;
  for (std::size_t i = steps.size(); i-- > 0;) {
    const auto count = std::count_if(
        report.earphones.begin(), report.earphones.end(),
        [&](const EarphoneFindings& found) { return &span_step(found.span_db()) == &steps[i]; });
    if (count == 0) continue;
    const GroupWords& words = group_words.at(i);
    const std::string first = count == 1 ? words.one : words.several;
    texts.push_back(texts.empty()
                        ? fmt::format(fmt::runtime(first), count_text(count, first[0] == '{'), all)
                        : fmt::format(fmt::runtime(words.further), count));
  }
  return fmt::format("{}.", fmt::join(texts, "; "));
}

std::string all_within(const ReportFindings& report) {
  std::vector<LargestSource> largest;
  for (const auto& found : report.earphones)
    if (found.comparison.largest_source) largest.push_back(*found.comparison.largest_source);
  if (largest.empty()) return "";
  const double from_ohm = report.earphones.front().comparison.from_ohm;
  return fmt::format("{}, compared with {}.",
                     limit_sentence(largest, largest.front().limit_db, from_ohm),
                     printable(report.against.title()));
}

/// Whether it matters, with which earphone most and least, and which sources would be none.
Markup lead(const ReportFindings& report) {
  if (report.earphones.size() < 2) return {};
  const auto said = [](const EarphoneFindings& found) {
    return fmt::format("{} ({})", printable(found.title()), db_text(found.span_db()));
  };
  return element("p", {{"class", "lead"}},
                 words(fmt::format("{} {} changes most and {} least. {}", verdicts(report),
                                   said(report.earphones.front()), said(report.earphones.back()),
                                   all_within(report))));
}

/// Each earphone with the usual sources, in decibels of span.
Markup other_sources(const ReportFindings& report) {
  const Survey& others = report.others;
  if (others.rows.empty()) return {};
  Rows rows{{"Earphone"}};
  for (const auto& source : others.sources) rows[0].push_back(source.label);
  rows[0].push_back("up to, ohm");
  for (const auto& row : others.rows) {
    rows.push_back({printable(row.title)});
    for (const auto& cell : row.cells)
      rows.back().push_back(fmt::format("{:.2f}", cell.deviation.span_db()));
    rows.back().push_back(largest_text(row.largest_source, others.from.output_ohm));
  }
  return table(rows, {"Span in dB with other sources", true}) +
         paragraph(fmt::format("Other sources in place of {}; \"up to\" is the highest output "
                               "impedance that keeps the span within {} dB.",
                               printable(report.against.title()),
                               number_text(others.rows.front().largest_source.limit_db)));
}

/// Its decibels and where; "none" where there is no change.
std::array<std::string, 2> change_cells(const Extreme& extreme) {
  const auto cells = extreme_cells(extreme);
  return {cells[0], cells.size() > 1 ? hz_text(extreme.hz) : ""};
}

Markup overview(const ReportFindings& report) {
  if (report.earphones.size() < 2) return {};
  Rows rows{{"Earphone", "Span", "Largest rise", "at", "Largest fall", "at", "Level", "Hiss"}};
  for (const auto& found : report.earphones) {
    const Deviation& d = found.compared().deviation;
    const auto rise = change_cells(d.rise), fall = change_cells(d.fall);
    rows.push_back({printable(found.title()), db_text(d.span_db), rise[0], rise[1], fall[0],
                    fall[1], signed_db(d.level_change_db),
                    found.hiss ? dba_text(found.hiss->result.level_dba) : "not known"});
  }
  return table(rows, {"All earphones with this chain", true});
}

}  // namespace

std::string earphone_anchor(std::size_t index) { return fmt::format("earphone-{}", index + 1); }

Markup summary_section(const ReportFindings& report) {
  Markup cards;
  for (std::size_t i = 0; i < report.earphones.size(); ++i) cards += card(report.earphones[i], i);
  return element("section", heading(2, "What changes, and whether it matters") + lead(report) +
                                element("div", {{"class", "cards"}}, cards) + overview(report) +
                                other_sources(report));
}

}  // namespace ohmtilt::cli
