#include <fmt/format.h>
#include <plots/axis.h>
#include <plots/figures/headroom_figure.h>

#include <cmath>

namespace ohmtilt::plots {
namespace {

/// Drawn over the other lines in short black strokes: where it runs along one of them, both show.
constexpr Series against_series = 6;
constexpr Series slight_tint = 4, strong_tint = 1;

void add_limit(Panel& panel, Limits& limits, const std::string& label, const Array& hz,
               const Array& level_db, Series series) {
  if (!level_db.isFinite().any()) return;
  limits.add(level_db);
  panel.lines.push_back({label, hz, level_db, series});
}

/// The line that another one would hide, to within what can be seen.
Line* same_line(Panel& panel, const Array& hz, const Array& level_db) {
  constexpr double seen_db = 0.1;
  for (auto& line : panel.lines)
    if (line.x.size() == hz.size() && (line.x == hz).all() &&
        ((line.y - level_db).abs() < seen_db).all())
      return &line;
  return nullptr;
}

/// The other chain's largest tone; where it runs all along a line that is there, its name stands
/// with that line.
void add_against(const HeadroomFigure& figure, Panel& panel, Limits& limits) {
  if (Line* const same = same_line(panel, figure.against_hz, figure.against_db))
    same->label += "; the same: " + figure.against_label;
  else
    add_limit(panel, limits, figure.against_label, figure.against_hz, figure.against_db,
              against_series);
}

Array pair(double first, double second) { return (Array(2) << first, second).finished(); }

}  // namespace

Panel limits_panel(const HeadroomFigure& figure) {
  Panel panel;
  const Array& hz = figure.frequency_hz;
  panel.x = frequency_axis({hz[0], hz[hz.size() - 1]});
  panel.height = 1.4;
  panel.heading = "Largest clean tone, dB SPL";
  panel.remark = "the lowest curve limits";
  Limits limits;
  limits.add(figure.target_db);
  limits.add(figure.peak_db);
  add_limit(panel, limits, "voltage", hz, figure.voltage_db, 0);
  add_limit(panel, limits, "current", hz, figure.current_db, 1);
  add_limit(panel, limits, "earphone's power", hz, figure.earphone_db, 2);
  add_against(figure, panel, limits);
  panel.y = level_axis(limits);
  panel.lines.push_back({"peaks of the target", pair(panel.x.low, panel.x.high),
                         Array::Constant(2, figure.peak_db), ink});
  panel.rules.push_back({Rule::Direction::level, figure.target_db, false});
  const double above = figure.target_db + 0.03 * (panel.y.high - panel.y.low);
  panel.notes.push_back({Note::Side::left, panel.x.low * 1.06, above, "target"});
  return panel;
}

namespace {

Limits levels_of(const HeadroomFigure& figure) {
  Limits levels;
  for (const auto& curve : figure.travel) levels.add(curve.level_db);
  if (figure.travel_before) levels.add(figure.travel_before->level_db);
  return levels;
}

/// Shades each part, and says over how much it is at its upper edge.
void shade(const HeadroomFigure& figure, Panel& panel) {
  for (const auto& part : figure.imbalance) {
    const Series tint = part.over_db > 1 ? strong_tint : slight_tint;
    panel.areas.push_back({pair(panel.x.low, panel.x.high), Array::Constant(2, part.low_percent),
                           Array::Constant(2, part.high_percent), tint});
    if (part.high_percent - part.low_percent < 4) continue;
    panel.notes.push_back({Note::Side::left, panel.x.low + 0.015 * (panel.x.high - panel.x.low),
                           part.high_percent - 3.5, fmt::format("over {:g} dB", part.over_db)});
  }
}

}  // namespace

std::optional<Panel> travel_panel(const HeadroomFigure& figure) {
  const Limits levels = levels_of(figure);
  if (levels.empty) return std::nullopt;
  Panel panel;
  panel.heading = "Volume control, % of travel";
  panel.remark = "shaded: channels differ by more than 1 dB, 2 dB";
  panel.x = exact_axis(levels.low, levels.high, "Programme, dB SPL");
  panel.y = exact_axis(0, 100, "%");
  panel.height = 1.1;
  panel.in_terminal = false;
  shade(figure, panel);
  for (std::size_t i = 0; i < figure.travel.size(); ++i)
    panel.lines.push_back({figure.travel[i].label, figure.travel[i].level_db,
                           figure.travel[i].travel_percent, static_cast<Series>(i)});
  if (const auto& other = figure.travel_before)
    panel.lines.push_back({other->label, other->level_db, other->travel_percent, against_series});
  panel.lines.push_back({"", pair(figure.target_db, figure.target_db), pair(0, 100), ink});
  panel.notes.push_back(
      {Note::Side::left, figure.target_db + 0.012 * (panel.x.high - panel.x.low), 96, "target"});
  return panel;
}

Sheet sheet_of(const HeadroomFigure& figure) {
  Sheet sheet{figure.title, figure.subtitle, figure.caption, {limits_panel(figure)}};
  if (auto travel = travel_panel(figure)) sheet.panels.push_back(std::move(*travel));
  return sheet;
}

}  // namespace ohmtilt::plots
