#include <fmt/format.h>

#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <plots/figures/schematic.h>
#include <plots/inline_svg.h>
#include <tools/ohmtilt/report/figures.h>

#include <algorithm>
#include <cmath>

namespace ohmtilt::cli {
namespace {

struct Planned {
  std::string name, title, caption;
  std::string shows;  ///< for who does not see it: what is drawn; the title follows
  std::variant<plots::Sheet, plots::Schematic> content;
};

Planned planned(const std::string& name, const std::string& shows, const plots::Sheet& sheet) {
  return {name, sheet.title, sheet.caption, shows, sheet};
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

void plan_response(const EarphoneFindings& found, const std::string& name,
                   std::vector<Planned>& plan) {
  const bool response = found.comparison.response_before_db.size() > 0;
  const plots::DeviationFigure figure = figure_of(found.earphone, found.comparison);
  plan.push_back(planned(
      name,
      fmt::format("Over frequency: the deviation{}, and the impedance with its phase. {}",
                  response ? ", the response before and after" : "", conclusion(found.compared())),
      plots::deviation_sheet(figure)));
  if (figure.curves[0].band_lower_db.size() > 0)
    plan.back().caption += "; light band: the curve's own uncertainty, 95 %";
}

void plan_decay(const EarphoneFindings& found, const std::string& name,
                std::vector<Planned>& plan) {
  if (!found.damping || found.damping->damping.modes.empty()) return;
  plan.push_back(planned(
      name, "The Q of each resonance over the source, their paths, and how a tone burst ends",
      plots::damping_sheet(figure_of(*found.damping))));
}

void plan_earphone(const EarphoneFindings& found, std::size_t index, std::vector<Planned>& plan) {
  plan_response(found, figure_name(index, "response"), plan);
  plan_decay(found, figure_name(index, "decay"), plan);
  if (found.headroom)
    plan.push_back(planned(figure_name(index, "level"),
                           "The largest clean tone over frequency, with what the target needs",
                           plots::headroom_sheet(figure_of(*found.headroom))));
  if (found.hiss)
    plan.push_back(planned(figure_name(index, "hiss"),
                           "Noise at the ear in third-octaves against the threshold of hearing",
                           plots::hiss_sheet(figure_of(*found.hiss))));
  if (found.crosstalk)
    plan.push_back(planned(figure_name(index, "channels"),
                           "Separation of the channels over frequency, and the impedance",
                           plots::crosstalk_sheet(figure_of(*found.crosstalk))));
}

std::vector<plots::PageFigure> for_page(const std::vector<Planned>& plan) {
  std::vector<plots::PageFigure> figures;
  for (const auto& one : plan)
    for (const bool narrow : {false, true})
      figures.push_back({"figure-" + one.name + (narrow ? "-narrow" : ""),
                         printable(one.shows + ": " + one.title, 600), one.content, narrow});
  return figures;
}

Markup figure_element(const Planned& one, const std::string& wide, const std::string& narrow) {
  const auto variant = [](const char* name, const std::string& svg) {
    return element("div", {{"class", name}}, Markup::written_here(svg));
  };
  return element("figure", {{"id", "figure-" + one.name}},
                 variant("wide", wide) + variant("narrow", narrow) +
                     element("figcaption", element("strong", words(printable(one.title, 300))) +
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
  std::vector<Planned> plan{chain_figure(report.chain)};
  for (std::size_t i = 0; i < report.earphones.size(); ++i)
    plan_earphone(report.earphones[i], i, plan);
  const auto drawn = plots::inline_svgs(for_page(plan), [&](double part) {
    if (report.how.progress) report.how.progress((1 + part) / 2);
  });
  for (std::size_t i = 0; i < plan.size(); ++i)
    figures_[plan[i].name] = figure_element(plan[i], drawn[2 * i], drawn[2 * i + 1]);
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
