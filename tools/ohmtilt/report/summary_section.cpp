#include <fmt/format.h>

#include <ohmtilt/base/text.h>
#include <tools/ohmtilt/report/sections.h>

#include <algorithm>
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
  add_finding("Level", level_text(found.comparison), list);
  if (found.damping && !found.damping->damping.modes.empty())
    add_finding("Decay", conclusion(*found.damping), list);
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

/// Which earphone minds most, and which least.
Markup ranking(const ReportFindings& report) {
  if (report.earphones.size() < 2) return {};
  const auto less = [](const EarphoneFindings& a, const EarphoneFindings& b) {
    return a.compared().deviation.span_db < b.compared().deviation.span_db;
  };
  const auto [least, most] =
      std::minmax_element(report.earphones.begin(), report.earphones.end(), less);
  const auto said = [](const EarphoneFindings& found) {
    return fmt::format("{} ({})", printable(found.title()),
                       db_text(found.compared().deviation.span_db));
  };
  return element("p", {{"class", "lead"}},
                 words(fmt::format("Of {} earphones {} changes most and {} least.",
                                   report.earphones.size(), said(*most), said(*least))));
}

Markup overview(const ReportFindings& report) {
  if (report.earphones.size() < 2) return {};
  Rows rows{{"Earphone", "Span", "Largest rise", "at", "Largest fall", "at", "Level", "Hiss"}};
  for (const auto& found : report.earphones) {
    const Deviation& d = found.compared().deviation;
    rows.push_back({printable(found.title()), db_text(d.span_db), signed_db(d.rise.db),
                    hz_text(d.rise.hz), signed_db(d.fall.db), hz_text(d.fall.hz),
                    signed_db(d.level_change_db),
                    found.hiss ? dba_text(found.hiss->result.level_dba) : "not known"});
  }
  return table(rows, {"All earphones with this chain", true});
}

}  // namespace

std::string earphone_anchor(std::size_t index) { return fmt::format("earphone-{}", index + 1); }

Markup summary_section(const ReportFindings& report) {
  Markup cards;
  for (std::size_t i = 0; i < report.earphones.size(); ++i) cards += card(report.earphones[i], i);
  return element("section", heading(2, "What changes, and whether it matters") + ranking(report) +
                                element("div", {{"class", "cards"}}, cards) + overview(report));
}

}  // namespace ohmtilt::cli
