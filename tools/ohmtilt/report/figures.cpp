#include <fmt/format.h>

#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <plots/figures/overview_figure.h>
#include <plots/figures/schematic.h>
#include <plots/inline_svg.h>
#include <tools/ohmtilt/report/figures.h>

#include <algorithm>
#include <cmath>
#include <set>

namespace ohmtilt::cli {
namespace {

struct Planned {
  std::string name, title, caption;
  std::string shows;  ///< for who does not see it: what is drawn; the title follows
  std::variant<plots::Sheet, plots::Schematic> content;
  bool half = false;  ///< as wide as half the page
};

Planned planned(const std::string& name, const std::string& shows, const plots::Sheet& sheet) {
  return {name, sheet.title, sheet.caption, shows, sheet};
}

Planned half(Planned one) {
  one.half = true;
  return one;
}

Planned chain_figure(const Chain& chain) {
  const plots::Schematic drawing = plots::schematic(chain);
  std::vector<std::string> parts{"amplifier"};
  for (std::size_t i = 0; i < chain.stages().size(); ++i)
    parts.push_back(stage_label(i, chain.stages()[i]));
  parts.emplace_back("earphone");
  return {"chain", chain.title(), drawing.caption, "Schematic from left to right: " + listed(parts),
          drawing};
}

/// Short names of the earphones, each its own.
std::vector<std::string> labels_of(const ReportFindings& report) {
  std::vector<std::string> labels, titles;
  for (const auto& found : report.earphones) {
    titles.push_back(found.title());
    labels.push_back(found.earphone.label.empty() ? found.title() : found.earphone.label);
  }
  const std::set<std::string> different(labels.begin(), labels.end());
  return different.size() == labels.size() ? labels : titles;
}

Planned overview_figure(const ReportFindings& report) {
  plots::OverviewFigure figure;
  const auto [to, from] = title_names(report.chain.title(), report.against.title());
  figure.title = to + " instead of " + from + ": all deviations";
  figure.remark = anchor_text(report.how.comparison.anchor);
  figure.caption = "Both responses " + figure.remark + ".";
  if (report.earphones.size() > plots::most_named_curves)
    figure.caption += fmt::format(" Named are the {} that change most.", plots::most_named_curves);
  const auto labels = labels_of(report);
  for (std::size_t i = 0; i < report.earphones.size(); ++i) {
    const auto& found = report.earphones[i];
    figure.curves.push_back(
        {labels[i], found.comparison.grid.grid_hz, found.compared().deviation.deviation_db});
  }
  return planned("overview", "Over frequency: the deviation of every earphone",
                 plots::sheet_of(figure));
}

/// Deviation, response and |Z|; the phase is in the table.
void plan_response(const EarphoneFindings& found, const std::string& name,
                   std::vector<Planned>& plan) {
  plots::DeviationFigure figure = figure_of(found.earphone, found.comparison);
  figure.phase_deg = Array();
  const bool response = found.comparison.response_before_db.size() > 0;
  plan.push_back(planned(
      name,
      fmt::format("Over frequency: the deviation{}, and the impedance. {}",
                  response ? ", the response before and after" : "", conclusion(found.compared())),
      plots::sheet_of(figure)));
  if (figure.curves[0].band_lower_db.size() > 0)
    plan.back().caption += "; light band: the curve's own uncertainty, 95 %";
}

void plan_decay(const EarphoneFindings& found, const std::string& name,
                std::vector<Planned>& plan) {
  if (!found.damping || found.damping->damping.modes.empty()) return;
  plan.push_back(half(planned(
      name, "The Q of each resonance over the source, their paths, and how a tone burst ends",
      plots::sheet_of(figure_of(*found.damping)))));
}

/// "At 85 dB SPL the control stands at 12.3 % instead of 4.1 % of its travel".
std::string volume_title(const EarphoneFindings& found) {
  const Merits before = merits_before(found), after = merits_after(found);
  const std::string at = fmt::format("At {} dB SPL ", number_text(found.headroom->how.target_db));
  if (!after.travel_percent) return at + "no travel of the control is enough";
  const std::string instead =
      before.travel_percent ? fmt::format(" instead of {:.1f} %", *before.travel_percent) : "";
  return fmt::format("{}the control stands at {:.1f} %{} of its travel", at, *after.travel_percent,
                     instead);
}

void plan_level(const EarphoneFindings& found, std::size_t index, std::vector<Planned>& plan) {
  if (!found.headroom) return;
  const plots::HeadroomFigure figure = figure_of(*found.headroom);
  if (auto travel = plots::travel_panel(figure))
    plan.push_back(half(planned(
        figure_name(index, "volume"), "The volume control's travel over the programme's level",
        {volume_title(found),
         "",
         "A line for each gain step, up to the first limit. Shaded: the channels differ by more "
         "than 1 dB and 2 dB.",
         {std::move(*travel)}})));
  plan.push_back(half(
      planned(figure_name(index, "level"),
              "The largest clean tone over frequency, with what the target needs",
              {figure.title, figure.subtitle, figure.caption, {plots::limits_panel(figure)}})));
}

void plan_earphone(const EarphoneFindings& found, std::size_t index, std::vector<Planned>& plan) {
  plan_response(found, figure_name(index, "response"), plan);
  plan_decay(found, figure_name(index, "decay"), plan);
  plan_level(found, index, plan);
  if (found.hiss)
    plan.push_back(
        half(planned(figure_name(index, "hiss"),
                     "Noise at the ear in third-octaves against the threshold of hearing",
                     plots::sheet_of(figure_of(*found.hiss)))));
  if (found.crosstalk)
    plan.push_back(half(planned(figure_name(index, "channels"),
                                "Separation of the channels over frequency, and the impedance",
                                plots::sheet_of(figure_of(*found.crosstalk)))));
}

std::vector<plots::PageFigure> for_page(const std::vector<Planned>& plan) {
  std::vector<plots::PageFigure> figures;
  for (const auto& one : plan)
    for (const bool narrow : {false, true}) {
      if (one.half && !narrow) continue;
      figures.push_back({"figure-" + one.name + (narrow ? "-narrow" : ""),
                         printable(one.shows + ": " + one.title, 600), one.content, narrow});
    }
  return figures;
}

/// drawn: the wide and the narrow one, or the narrow one alone.
Markup figure_element(const Planned& one, const std::vector<std::string>& drawn) {
  Markup pictures;
  if (drawn.size() == 1) pictures = Markup::written_here(drawn[0]);
  for (std::size_t i = 0; i < drawn.size() && drawn.size() > 1; ++i)
    pictures +=
        element("div", {{"class", i == 0 ? "wide" : "narrow"}}, Markup::written_here(drawn[i]));
  return element(
      "figure", {{"id", "figure-" + one.name}},
      pictures + element("figcaption", element("strong", words(printable(one.title, 300))) +
                                           words(" " + one.caption)));
}

}  // namespace

std::string figure_name(std::size_t earphone, const char* what) {
  return fmt::format("{}-{}", earphone + 1, what);
}

ReportFigures::ReportFigures(const ReportFindings& report) {
  try {
    draw(report);
  } catch (const OutputError& error) {
    figures_.clear();
    missing_ = error.what();
  }
}

void ReportFigures::draw(const ReportFindings& report) {
  std::vector<Planned> plan{overview_figure(report), chain_figure(report.chain)};
  for (std::size_t i = 0; i < report.earphones.size(); ++i)
    plan_earphone(report.earphones[i], i, plan);
  const auto drawn = plots::inline_svgs(for_page(plan), [&](double part) {
    if (report.how.progress) report.how.progress((1 + part) / 2);
  });
  auto next = drawn.begin();
  for (const auto& one : plan) {
    const auto end = next + (one.half ? 1 : 2);
    figures_[one.name] = figure_element(one, {next, end});
    next = end;
  }
}

Markup ReportFigures::of(const std::string& name) const {
  const auto found = figures_.find(name);
  return found == figures_.end() ? Markup() : found->second;
}

// ---- the scale ---------------------------------------------------------------------------------

namespace {

constexpr double step_width = 108;
constexpr double last_step_end_db = 9;  ///< drawn; a larger span stands at its end

/// Every step has the same width, whatever its decibels.
double place_of(double span_db) {
  double start = 0, place = 0;
  for (const auto& step : span_steps()) {
    const double end = std::min(step.below_db, last_step_end_db);
    if (span_db < end || end == last_step_end_db)
      return place + step_width * std::min(1.0, (span_db - start) / (end - start));
    start = end;
    place += step_width;
  }
  return place;
}

std::string step_boxes(double span_db) {
  std::string boxes;
  double left = 0;
  for (const auto& step : span_steps()) {
    const bool here = &step == &span_step(span_db);
    boxes += fmt::format(
        "<rect x=\"{0:g}\" y=\"14\" width=\"{1:g}\" height=\"8\" fill=\"var(--{2})\"/>"
        "<text x=\"{3:g}\" y=\"36\" text-anchor=\"middle\" fill=\"var(--{4})\"{5}>{6}</text>",
        left, step_width - 2, here ? "accent" : "strip", left + step_width / 2 - 1,
        here ? "text" : "quiet", here ? " font-weight=\"bold\"" : "", step.short_name);
    left += step_width;
  }
  return boxes;
}

}  // namespace

Markup span_scale(double span_db) {
  const double at = std::clamp(place_of(span_db), 5.0, 4 * step_width - 7);
  return Markup::written_here(fmt::format(
      "<svg class=\"scale\" viewBox=\"0 0 {:g} 42\" role=\"img\" aria-label=\"Span {}: {}\">"
      "<g font-size=\"11\">{}<path d=\"M{:.1f},12 l-5,-9 h10 z\" fill=\"var(--text)\"/></g></svg>",
      4 * step_width, db_text(span_db), span_step(span_db).weight, step_boxes(span_db), at));
}

}  // namespace ohmtilt::cli
