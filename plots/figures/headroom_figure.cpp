#include <plots/axis.h>
#include <plots/figures/headroom_figure.h>

namespace ohmtilt::plots {
namespace {

void add_limit(Panel& panel, Limits& limits, const std::string& label, const Array& hz,
               const Array& level_db, Series series) {
  if (!level_db.isFinite().any()) return;
  limits.add(level_db);
  panel.lines.push_back({label, hz, level_db, series});
}

}  // namespace

Sheet headroom_sheet(const HeadroomFigure& figure) {
  Panel panel;
  const Array& hz = figure.frequency_hz;
  panel.x = frequency_axis({hz[0], hz[hz.size() - 1]});
  panel.height = 1.4;
  panel.heading = "Largest clean tone, dB SPL";
  panel.remark = "the lowest limit rules";
  Limits limits;
  limits.add(figure.target_db);
  limits.add(figure.peak_db);
  add_limit(panel, limits, "voltage", hz, figure.voltage_db, 0);
  add_limit(panel, limits, "current", hz, figure.current_db, 1);
  add_limit(panel, limits, "earphone's power", hz, figure.earphone_db, 2);
  add_limit(panel, limits, figure.against_label, figure.against_hz, figure.against_db, 3);
  panel.y = level_axis(limits);
  const Array ends = (Array(2) << panel.x.low, panel.x.high).finished();
  panel.lines.push_back({"peaks of the target", ends, Array::Constant(2, figure.peak_db), ink});
  panel.rules.push_back({Rule::Direction::level, figure.target_db, false});
  const double above = figure.target_db + 0.03 * (panel.y.high - panel.y.low);
  panel.notes.push_back({Note::Side::left, panel.x.low * 1.06, above, "target"});
  return {figure.title, figure.subtitle, figure.caption, {panel}};
}

void draw(const HeadroomFigure& figure, const Output& output) {
  draw(headroom_sheet(figure), output);
}

}  // namespace ohmtilt::plots
