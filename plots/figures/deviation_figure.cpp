#include <plots/axis.h>
#include <plots/figures/deviation_figure.h>
#include <plots/frequency_panel.h>

#include <algorithm>

namespace ohmtilt::plots {
namespace {

std::string anchor_text(const DeviationFigure& figure) {
  const double low_hz = figure.anchor_low_hz, high_hz = figure.anchor_high_hz;
  return low_hz == high_hz
             ? "normalised at " + hz_text(low_hz)
             : "normalised on average, " + hz_text(low_hz) + " to " + hz_text(high_hz);
}

void mark_anchor(const DeviationFigure& figure, Panel& panel) {
  if (figure.anchor_low_hz <= 0) return;
  panel.remark = anchor_text(figure);
  if (figure.anchor_low_hz < figure.anchor_high_hz)
    panel.strips.push_back({figure.anchor_low_hz, figure.anchor_high_hz});
  else
    panel.rules.push_back({Rule::Direction::upright, figure.anchor_low_hz, true});
}

constexpr std::size_t most_drawn = 8;  // series that look different

/// The curves that are drawn: all of them, or the first, the last and others evenly between.
std::vector<std::size_t> drawn_curves(const DeviationFigure& figure) {
  const std::size_t count = figure.curves.size(), drawn = std::min(count, most_drawn);
  std::vector<std::size_t> which;
  for (std::size_t i = 0; i < drawn; ++i)
    which.push_back(drawn < 2 ? 0 : (i * (count - 1) + (drawn - 1) / 2) / (drawn - 1));
  return which;
}

bool has_band(const DeviationCurve& curve) { return curve.band_lower_db.size() > 0; }

/// Of many bands one alone can be told from the rest: that of the largest deviation.
std::vector<std::size_t> drawn_bands(const DeviationFigure& figure) {
  std::vector<std::size_t> which;
  for (const std::size_t i : drawn_curves(figure))
    if (has_band(figure.curves[i])) which.push_back(i);
  if (which.size() <= 2) return which;
  const auto largest = [&](std::size_t i) {
    return figure.curves[i].deviation_db.abs().maxCoeff();
  };
  return {*std::max_element(which.begin(), which.end(),
                            [&](std::size_t i, std::size_t k) { return largest(i) < largest(k); })};
}

/// The series of a curve: its place among the drawn ones.
Series series_of(const DeviationFigure& figure, std::size_t curve) {
  const auto drawn = drawn_curves(figure);
  return static_cast<Series>(std::find(drawn.begin(), drawn.end(), curve) - drawn.begin());
}

void add_bands(const DeviationFigure& figure, Panel& panel, Limits& limits) {
  const auto bands = drawn_bands(figure);
  for (const std::size_t i : bands) {
    const DeviationCurve& curve = figure.curves[i];
    limits.add(curve.band_lower_db);
    limits.add(curve.band_upper_db);
    panel.areas.push_back(
        {figure.frequency_hz, curve.band_lower_db, curve.band_upper_db, series_of(figure, i)});
  }
  if (bands.empty()) return;
  const bool one_of_many = bands.size() == 1 && figure.curves.size() > 1;
  panel.remark += std::string(panel.remark.empty() ? "" : "; ") + "light band" +
                  (one_of_many ? " (" + figure.curves[bands[0]].label + ")" : "") + ": " +
                  figure.band_meaning;
}

Panel deviation_panel(const DeviationFigure& figure) {
  Panel panel = frequency_panel(figure.frequency_hz, 1, "Deviation, dB");
  mark_anchor(figure, panel);
  Limits limits;
  for (const std::size_t i : drawn_curves(figure)) {
    const DeviationCurve& curve = figure.curves[i];
    limits.add(curve.deviation_db);
    panel.lines.push_back(
        {curve.label, figure.frequency_hz, curve.deviation_db, series_of(figure, i)});
  }
  add_bands(figure, panel, limits);
  panel.y = deviation_axis(limits);
  panel.rules.push_back({Rule::Direction::level, 0, false});
  return panel;
}

/// The upper part of a response; in a larger range a change of 1 dB could not be seen.
constexpr double shown_of_response_db = 25;

Panel response_panel(const DeviationFigure& figure) {
  Panel panel = frequency_panel(figure.frequency_hz, 0.8, "Response, dB SPL");
  Limits limits;
  limits.add(figure.response_before_db);
  panel.lines.push_back({figure.from_label.empty() ? "before" : figure.from_label,
                         figure.frequency_hz, figure.response_before_db, ink});
  for (const std::size_t i : drawn_curves(figure)) {
    if (i >= figure.response_after_db.size()) continue;
    limits.add(figure.response_after_db[i]);
    panel.lines.push_back({figure.curves[i].label, figure.frequency_hz, figure.response_after_db[i],
                           series_of(figure, i)});
  }
  limits.low = std::max(limits.low, limits.high - shown_of_response_db);
  panel.y = level_axis(limits);
  return panel;
}

Panel magnitude_panel(const DeviationFigure& figure) {
  Panel panel = frequency_panel(figure.frequency_hz, 0.5, "Impedance |Z|, ohm");
  Limits limits;
  limits.add(figure.magnitude_ohm);
  panel.y = log_axis(limits, "ohm");
  panel.lines.push_back({"", figure.frequency_hz, figure.magnitude_ohm, ink});
  return panel;
}

Panel phase_panel(const DeviationFigure& figure) {
  Panel panel = impedance_phase_panel(figure.frequency_hz, figure.phase_deg, 0.35);
  if (figure.phase_is_minimum) panel.remark = "minimum phase, worked out from |Z|";
  panel.in_terminal = false;
  return panel;
}

}  // namespace

Sheet sheet_of(const DeviationFigure& figure) {
  Sheet sheet{figure.conclusion, figure.earphone_title, figure.caption, {}};
  if (figure.curves.size() > most_drawn)
    sheet.caption += "; drawn are " + std::to_string(most_drawn) + " of " +
                     std::to_string(figure.curves.size()) + " sources";
  sheet.panels.push_back(deviation_panel(figure));
  if (figure.response_before_db.size() > 0) sheet.panels.push_back(response_panel(figure));
  if (!figure.changes.empty()) {
    sheet.panels.push_back(changes_panel(figure.frequency_hz, figure.changes,
                                         "Change of the deviation for 1 % more, dB", "dB"));
    sheet.panels.back().remark = figure.changes_remark;
  }
  sheet.panels.push_back(magnitude_panel(figure));
  if (figure.phase_deg.size() > 0) sheet.panels.push_back(phase_panel(figure));
  sheet.panels.back().shares_x = false;
  return sheet;
}

}  // namespace ohmtilt::plots
