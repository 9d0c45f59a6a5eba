#include <plots/axis.h>
#include <plots/figures/tune_figure.h>
#include <plots/frequency_panel.h>

namespace ohmtilt::plots {
namespace {

constexpr const char* tune_before = "before";
constexpr const char* tune_after = "tuned";

Panel deviation_panel(const TuneFigure& figure) {
  const Array& hz = figure.frequency_hz;
  Panel panel = frequency_panel(hz, 1, "Deviation from " + figure.from_label + ", dB");
  Limits limits;
  limits.add(figure.before_db);
  limits.add(figure.after_db);
  panel.y = deviation_axis(limits);
  panel.rules.push_back({Rule::Direction::level, 0, false});
  panel.lines.push_back({tune_before, hz, figure.before_db, ink});
  panel.lines.push_back({tune_after, hz, figure.after_db, 0});
  return panel;
}

Panel input_panel(const TuneFigure& figure) {
  const Array& hz = figure.frequency_hz;
  Panel panel = frequency_panel(hz, 0.8, "|Z| that the amplifier sees, ohm");
  panel.shares_x = false;
  Limits limits;
  limits.add(figure.before_ohm);
  limits.add(figure.after_ohm);
  limits.add(figure.target_ohm);
  panel.y = log_axis(limits, "ohm");
  panel.lines.push_back({tune_before, hz, figure.before_ohm, ink});
  panel.lines.push_back({tune_after, hz, figure.after_ohm, 0});
  if (figure.target_ohm.size() > 0) panel.lines.push_back({"target", hz, figure.target_ohm, 1});
  return panel;
}

Panel front_panel(const TuneFigure& figure) {
  Panel panel;
  panel.heading = figure.minimised_label;
  panel.remark = "upright line: taken";
  panel.height = 0.8;
  Limits x, y;
  x.add(figure.traded);
  y.add(figure.minimised);
  panel.x = linear_axis(x, {figure.traded_label, 0, 0.05, false});
  panel.y = linear_axis(y, {"", 0, 0.1, false});
  panel.points.push_back({"", figure.traded, figure.minimised, {}, 0});
  panel.rules.push_back({Rule::Direction::upright, figure.chosen_traded, true});
  return panel;
}

}  // namespace

Sheet sheet_of(const TuneFigure& figure) {
  Sheet sheet{figure.conclusion,
              figure.earphone_title,
              figure.caption,
              {deviation_panel(figure), input_panel(figure)}};
  sheet.panels[0].shares_x = true;
  if (figure.traded.size() > 1) sheet.panels.push_back(front_panel(figure));
  return sheet;
}

}  // namespace ohmtilt::plots
