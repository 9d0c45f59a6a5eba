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

// ---- the lead ----------------------------------------------------------------------------------

using Known = std::optional<double>;

/// "5 of 6 before, 1 of 6 after": on how many earphones a value that is known both times is so.
template <class Is>
std::string before_and_after(const ReportFindings& report, Known Merits::*what, const Is& is) {
  int known = 0, before = 0, after = 0;
  for (const auto& found : report.earphones) {
    const Known was = merits_before(found).*what, now = merits_after(found).*what;
    if (!was || !now) continue;
    ++known;
    before += is(*was) ? 1 : 0;
    after += is(*now) ? 1 : 0;
  }
  if (known == 0) return "";
  const auto count = [](int number) { return number == 0 ? "none" : std::to_string(number); };
  return before == after
             ? fmt::format("{} of {} before and after", count(before), known)
             : fmt::format("{} of {} before, {} after", count(before), known, count(after));
}

/// Whether it matters, on how many earphones, and what it is good for.
Markup lead(const ReportFindings& report) {
  if (report.earphones.size() < 2)
    return element("p", {{"class", "lead"}}, words(conclusion(report.earphones[0].compared())));
  std::string text = verdicts(report);
  const std::string hiss = before_and_after(report, &Merits::hiss_over_threshold_db,
                                            [](double over_db) { return over_db > 0; });
  if (!hiss.empty()) text += fmt::format(" Hiss is audible on {}.", hiss);
  const std::string imbalance =
      before_and_after(report, &Merits::imbalance_db, [](double db) { return db >= 1; });
  if (!imbalance.empty())
    text += fmt::format(" The channels differ by 1 dB or more at {} dB SPL on {}.",
                        number_text(report.how.headroom.target_db), imbalance);
  return element("p", {{"class", "lead"}}, words(text));
}

// ---- the table of costs and benefits -----------------------------------------------------------

Markup small(const std::string& text) { return element("small", words(text)); }

/// "12 -> 15 dB" with an arrow, one text where both are the same, one of them alone where the other
/// is not known.
template <class Text>
std::string arrow(const Known& before, const Known& after, const Text& text,
                  const std::string& unit) {
  if (!after) return "not known";
  const std::string was = before ? text(*before) : "", now = text(*after);
  return (was.empty() || was == now ? now : was + "\u00a0\u2192\u00a0" + now) + unit;
}

const std::string db_unit = "\u00a0dB";

/// Whether after is better, where more is better (sign 1) or less is (-1), as far as it is printed.
template <class Text>
Markup judged(const Known& before, const Known& after, int sign, const Text& text) {
  if (!before || !after) return {};
  if (text(*before) == text(*after)) return small("same");
  const bool better = sign * (*after - *before) > 0;
  return element("small", {{"class", better ? "better" : "worse"}},
                 words(better ? "better" : "worse"));
}

Markup change_cell(const EarphoneFindings& found) {
  constexpr std::array<const char*, 4> verdicts{"probably inaudible", "just audible",
                                                "change of tonal balance", "change of character"};
  const auto step = static_cast<std::size_t>(&span_step(found.span_db()) - span_steps().data());
  return element("strong", words(db_text(found.span_db()))) + small(verdicts.at(step));
}

Markup hiss_cell(const Merits& before, const Merits& after) {
  const auto heard = [](double over_db) {
    return std::string(over_db > 0 ? "audible" : "inaudible");
  };
  const auto& over = over_threshold_text;
  const Known &was = before.hiss_over_threshold_db, &now = after.hiss_over_threshold_db;
  Markup cell = words(arrow(was, now, heard, ""));
  if (now) cell += small(arrow(was, now, over, ""));
  return cell + judged(was, now, -1, over);
}

Markup travel_cell(const Merits& before, const Merits& after) {
  const auto text = [](double percent) { return fmt::format("{:.1f}", percent); };
  return words(arrow(before.travel_percent, after.travel_percent, text, "\u00a0%")) +
         judged(before.travel_percent, after.travel_percent, 1, text);
}

Markup imbalance_cell(const Merits& before, const Merits& after) {
  const auto text = [](double db) { return fmt::format("{:.1f}", db); };
  Markup cell = words(arrow(before.imbalance_db, after.imbalance_db, text, db_unit));
  if (after.imbalance_db) cell += small(imbalance_weight(*after.imbalance_db));
  return cell + judged(before.imbalance_db, after.imbalance_db, -1, text);
}

Markup headroom_cell(const Merits& before, const Merits& after) {
  return words(arrow(before.headroom_db, after.headroom_db, headroom_text, "")) +
         judged(before.headroom_db, after.headroom_db, 1, headroom_text);
}

Markup separation_cell(const EarphoneFindings& found, const Merits& before, const Merits& after) {
  if (found.crosstalk && !after.separation_db) return words("no crosstalk");
  Markup cell = words(arrow(before.separation_db, after.separation_db, separation_down,
                            after.separation_db ? db_unit : ""));
  if (after.separation_db) {
    const std::string weight = separation_weight(*after.separation_db);
    cell += small(weight.substr(0, weight.find_first_of(",:")));
  }
  return cell + judged(before.separation_db, after.separation_db, 1, separation_down);
}

Markup cells(const std::vector<std::string>& names, const std::vector<Markup>& cells) {
  Markup row;
  for (std::size_t i = 0; i < cells.size(); ++i)
    row += element("td", {{"data-of", names[i + 1]}}, cells[i]);
  return row;
}

Markup trade_row(const ReportFindings& report, std::size_t index,
                 const std::vector<std::string>& names) {
  const EarphoneFindings& found = report.earphones[index];
  const Merits before = merits_before(found), after = merits_after(found);
  const double level_db = found.compared().deviation.level_change_db;
  return element(
      "tr", {{"id", row_anchor(index)}},
      element("th", {{"scope", "row"}}, link_to(earphone_place(report, index))) +
          cells(names, {change_cell(found), hiss_cell(before, after), travel_cell(before, after),
                        imbalance_cell(before, after), headroom_cell(before, after),
                        separation_cell(found, before, after),
                        element("span", {{"class", "whole"}}, words(signed_db(level_db)))}));
}

Markup trade_table(const ReportFindings& report) {
  const std::string target = number_text(report.how.headroom.target_db);
  const std::vector<std::string> names{"Earphone",
                                       "Change of sound (span)",
                                       "Hiss, and the threshold of hearing",
                                       "Travel of the volume control",
                                       "Channel imbalance",
                                       "Headroom",
                                       "Channel separation",
                                       "Level"};
  Markup head, body;
  for (const auto& name : names) head += element("th", {{"scope", "col"}}, words(name));
  for (std::size_t i = 0; i < report.earphones.size(); ++i) body += trade_row(report, i, names);
  const std::string caption = fmt::format(
      "Costs and benefits: {} \u2192 {}; volume, imbalance and headroom for programme of {} dB SPL",
      printable(report.against.title()), printable(report.chain.title()), target);
  return element("div",
                 {{"class", "sideways"},
                  {"role", "region"},
                  {"tabindex", "0"},
                  {"aria-label", "Costs and benefits"}},
                 element("table", {{"class", "trade"}},
                         element("caption", words(caption)) +
                             element("thead", element("tr", head)) + element("tbody", body)));
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

}  // namespace

Markup summary_section(const ReportFindings& report, const ReportFigures& figures) {
  const Place place = summary_place();
  return element("section", {{"id", place.anchor}},
                 section_heading(place) + lead(report) + trade_table(report) +
                     paragraph(verdict_note()) + figures.of("overview") +
                     paragraph(all_within(report)) +
                     folded("Other sources", other_sources(report)));
}

}  // namespace ohmtilt::cli
