#include <plots/axis.h>
#include <plots/figures/crosstalk_figure.h>

#include <cmath>

namespace ohmtilt::plots {
namespace {

void say_nothing_crosses(const CrosstalkFigure& figure, Panel& panel) {
  panel.y.ticks = {{panel.y.low, ""}};  // none would leave them to gnuplot
  panel.remark.clear();
  panel.notes.push_back({Note::Side::centre, std::sqrt(panel.x.low * panel.x.high),
                         (panel.y.low + panel.y.high) / 2, figure.nothing});
}

}  // namespace

Sheet sheet_of(const CrosstalkFigure& figure) {
  const Array& hz = figure.frequency_hz;
  Panel separation;
  separation.x = frequency_axis({hz[0], hz[hz.size() - 1]});
  separation.shares_x = true;
  separation.heading = "Separation of the channels, dB";
  separation.remark = "more is better";
  Limits limits;
  limits.add(figure.separation_db);
  limits.add(figure.four_wire_db);
  limits.add(figure.against_db);
  separation.y = level_axis(limits);
  if (limits.empty) say_nothing_crosses(figure, separation);
  if (figure.four_wire_db.isFinite().any())
    separation.lines.push_back({"4 wires", hz, figure.four_wire_db, 1});
  if (figure.against_db.isFinite().any())
    separation.lines.push_back({figure.against_label, figure.against_hz, figure.against_db, 1});
  if (figure.separation_db.isFinite().any())
    separation.lines.push_back({figure.label, hz, figure.separation_db, 0});
  Panel impedance;
  impedance.x = separation.x;
  impedance.height = 0.5;
  impedance.heading = "Impedance |Z|, ohm";
  Limits ohms;
  ohms.add(figure.magnitude_ohm);
  impedance.y = log_axis(ohms, "ohm");
  impedance.lines.push_back({"", hz, figure.magnitude_ohm, ink});
  return {figure.title, figure.subtitle, figure.caption, {separation, impedance}};
}

}  // namespace ohmtilt::plots
