#include <plots/axis.h>
#include <plots/figures/deviation_figure.h>
#include <plots/frequency_panel.h>

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

Panel deviation_panel(const DeviationFigure& figure) {
  Panel panel = frequency_panel(figure.frequency_hz, 1, "Deviation, dB");
  mark_anchor(figure, panel);
  Limits limits;
  for (std::size_t i = 0; i < figure.curves.size(); ++i) {
    const DeviationCurve& curve = figure.curves[i];
    const auto series = static_cast<Series>(i);
    limits.add(curve.deviation_db);
    panel.lines.push_back({curve.label, figure.frequency_hz, curve.deviation_db, series});
    if (curve.band_lower_db.size() == 0) continue;
    limits.add(curve.band_lower_db);
    limits.add(curve.band_upper_db);
    panel.areas.push_back({figure.frequency_hz, curve.band_lower_db, curve.band_upper_db, series});
  }
  if (!panel.areas.empty())
    panel.remark +=
        std::string(panel.remark.empty() ? "" : "; ") + "light band: " + figure.band_meaning;
  panel.y = deviation_axis(limits);
  panel.rules.push_back({Rule::Direction::level, 0, false});
  return panel;
}

Panel response_panel(const DeviationFigure& figure) {
  Panel panel = frequency_panel(figure.frequency_hz, 0.8, "Response, dB");
  Limits limits;
  limits.add(figure.response_before_db);
  panel.lines.push_back({figure.from_label.empty() ? "before" : figure.from_label,
                         figure.frequency_hz, figure.response_before_db, ink});
  for (std::size_t i = 0; i < figure.response_after_db.size(); ++i) {
    limits.add(figure.response_after_db[i]);
    const std::string label = i < figure.curves.size() ? figure.curves[i].label : "";
    panel.lines.push_back(
        {label, figure.frequency_hz, figure.response_after_db[i], static_cast<Series>(i)});
  }
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

Sheet deviation_sheet(const DeviationFigure& figure) {
  Sheet sheet;
  sheet.title = figure.conclusion;
  sheet.subtitle = figure.earphone_title;
  sheet.caption = figure.caption;
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

void draw(const DeviationFigure& figure, const Output& output) {
  draw(deviation_sheet(figure), output);
}

}  // namespace ohmtilt::plots
