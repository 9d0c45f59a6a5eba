#include <plots/axis.h>
#include <plots/figures/flatten_figure.h>

namespace ohmtilt::plots {
namespace {

constexpr const char* before = "earphone alone";
constexpr const char* after = "with the network";

Panel impedance_panel(const FlattenFigure& figure) {
  Panel panel;
  panel.heading = "Impedance |Z|, ohm";
  panel.remark = "line: lowest allowed";
  const Array& hz = figure.frequency_hz;
  panel.x = frequency_axis({hz[0], hz[hz.size() - 1]});
  Limits limits;
  limits.add(figure.before_ohm);
  limits.add(figure.after_ohm);
  limits.add(figure.least_ohm);
  panel.y = log_axis(limits, "ohm");
  panel.rules.push_back({Rule::Direction::level, figure.least_ohm, false});
  panel.lines.push_back({before, hz, figure.before_ohm, ink});
  panel.lines.push_back({after, hz, figure.after_ohm, 0});
  return panel;
}

Panel span_panel(const FlattenFigure& figure) {
  Panel panel;
  panel.heading = "Span of the deviation from an ideal source, dB";
  panel.remark = "line: limit";
  panel.height = 0.8;
  Limits sources, limits;
  sources.add(figure.source_ohm);
  panel.x = log_axis(sources, "Source resistance, ohm");
  limits.add(figure.before_db);
  limits.add(figure.after_db);
  limits.add(figure.limit_db);
  limits.add(0);
  panel.y = linear_axis(limits, {"dB", 1, 0.05, false});
  panel.rules.push_back({Rule::Direction::level, figure.limit_db, false});
  panel.lines.push_back({before, figure.source_ohm, figure.before_db, ink});
  panel.lines.push_back({after, figure.source_ohm, figure.after_db, 0});
  return panel;
}

}  // namespace

Sheet sheet_of(const FlattenFigure& figure) {
  return {figure.conclusion,
          figure.earphone_title,
          figure.caption,
          {impedance_panel(figure), span_panel(figure)}};
}

}  // namespace ohmtilt::plots
