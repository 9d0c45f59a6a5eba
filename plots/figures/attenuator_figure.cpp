#include <plots/axis.h>
#include <plots/figures/attenuator_figure.h>

namespace ohmtilt::plots {
namespace {

/// A mark a step, joined by a line.
Panel panel_of(const AttenuatorFigure& figure, const Array& values) {
  Limits db;
  db.add(figure.attenuation_db);
  Panel panel;
  panel.x = linear_axis(db, {"Attenuation, dB", 1, 0.05, false});
  panel.lines.push_back({"", figure.attenuation_db, values, 0});
  panel.points.push_back({"", figure.attenuation_db, values, {}, 0});
  return panel;
}

Panel output_panel(const AttenuatorFigure& figure) {
  Panel panel = panel_of(figure, figure.output_ohm);
  panel.heading = "Output impedance with the source, ohm";
  panel.remark = "one mark per step";
  panel.shares_x = true;
  Limits limits;
  limits.add(0);
  limits.add(figure.output_ohm);
  panel.y = linear_axis(limits, {"ohm", 1, 0.05, false});
  return panel;
}

Panel span_panel(const AttenuatorFigure& figure) {
  Panel panel = panel_of(figure, figure.span_db);
  panel.heading = "Span of the deviation, dB";
  panel.height = 0.8;
  Limits limits;
  limits.add(0);
  limits.add(figure.span_db);
  panel.y = linear_axis(limits, {"dB", 1, 0.05, false});
  return panel;
}

}  // namespace

Sheet sheet_of(const AttenuatorFigure& figure) {
  return {figure.conclusion,
          figure.earphone_title,
          figure.caption,
          {output_panel(figure), span_panel(figure)}};
}

}  // namespace ohmtilt::plots
