#include <plots/axis.h>
#include <plots/figures/equalizer_figure.h>

namespace ohmtilt::plots {
namespace {

Panel on_frequency(const EqualizerFigure& figure) {
  Panel panel;
  const Array& hz = figure.frequency_hz;
  panel.x = frequency_axis({hz[0], hz[hz.size() - 1]});
  panel.rules.push_back({Rule::Direction::level, 0, false});
  return panel;
}

void add_line(const EqualizerFigure& figure, Panel& panel, Limits& limits, const std::string& label,
              const Array& db, Series series) {
  limits.add(db);
  panel.lines.push_back({label, figure.frequency_hz, db, series});
}

Panel correction_panel(const EqualizerFigure& figure) {
  Panel panel = on_frequency(figure);
  panel.heading = "Deviation and its correction, dB";
  panel.shares_x = true;
  Limits limits;
  add_line(figure, panel, limits, "deviation", figure.deviation_db, ink);
  add_line(figure, panel, limits, "correction", figure.correction_db, 0);
  panel.y = deviation_axis(limits);
  for (const double hz : figure.filter_hz)
    panel.rules.push_back({Rule::Direction::upright, hz, true});
  if (figure.filter_hz.size() > 0) panel.remark = "vertical lines: filter frequencies";
  return panel;
}

Panel residual_panel(const EqualizerFigure& figure) {
  Panel panel = on_frequency(figure);
  panel.heading = "Remaining deviation, dB";
  panel.height = 0.6;
  Limits limits;
  add_line(figure, panel, limits, "filters", figure.residual_db, 0);
  if (figure.fir_residual_db.size() > 0)
    add_line(figure, panel, limits, "FIR", figure.fir_residual_db, 1);
  panel.y = deviation_axis(limits);
  return panel;
}

}  // namespace

Sheet sheet_of(const EqualizerFigure& figure) {
  return {figure.conclusion,
          figure.earphone_title,
          figure.caption,
          {correction_panel(figure), residual_panel(figure)}};
}

}  // namespace ohmtilt::plots
