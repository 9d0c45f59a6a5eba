#include <plots/axis.h>
#include <plots/figures/pad_figure.h>

namespace ohmtilt::plots {
namespace {

Array as_array(const std::vector<double>& values) {
  return Eigen::Map<const Array>(values.data(), static_cast<Eigen::Index>(values.size()));
}

Axis output_axis(const PadFigure& figure) {
  Limits limits;
  limits.add(figure.exact_output_ohm);
  for (const auto& pads : figure.pads) limits.add(as_array(pads.output_ohm));
  return log_axis(limits, "Output impedance with the source, ohm");
}

/// The line of exact values and the pads there are, of one quantity. The simplest pads come first
/// in figure.pads and stand above the others here.
Panel panel_of(const PadFigure& figure, const Array& exact, std::vector<double> PadMarks::*quantity,
               Limits& limits) {
  Panel panel;
  panel.x = output_axis(figure);
  limits.add(exact);
  panel.lines.push_back({figure.exact_label, figure.exact_output_ohm, exact, ink});
  for (std::size_t i = figure.pads.size(); i-- > 0;) {
    const PadMarks& pads = figure.pads[i];
    limits.add(as_array(pads.*quantity));
    panel.points.push_back({pads.label,
                            as_array(pads.output_ohm),
                            as_array(pads.*quantity),
                            {},
                            static_cast<Series>(i)});
  }
  if (figure.recommended_ohm > 0)
    panel.rules.push_back({Rule::Direction::upright, figure.recommended_ohm, true});
  return panel;
}

Panel current_panel(const PadFigure& figure) {
  Limits limits;
  Panel panel = panel_of(figure, figure.exact_milliampere, &PadMarks::milliampere, limits);
  panel.heading = "Largest current out of the amplifier, mA";
  panel.shares_x = true;
  if (figure.recommended_ohm > 0) panel.remark = "recommended: " + figure.recommended_label;
  if (figure.limit_milliampere) {
    limits.add(*figure.limit_milliampere);
    panel.rules.push_back({Rule::Direction::level, *figure.limit_milliampere, false});
    panel.notes.push_back(
        {Note::Side::left, panel.x.low, *figure.limit_milliampere, "the amplifier's limit"});
  }
  panel.y = log_axis(limits, "mA");
  return panel;
}

Panel span_panel(const PadFigure& figure) {
  Limits limits;
  Panel panel = panel_of(figure, figure.exact_span_db, &PadMarks::span_db, limits);
  panel.heading = "Span of the deviation, dB";
  panel.height = 0.8;
  limits.add(0);
  panel.y = linear_axis(limits, {"dB", 1, 0.05, false});
  panel.lines.front().label.clear();  // the key stands beside the panel above
  for (Points& points : panel.points) points.label.clear();
  return panel;
}

}  // namespace

Sheet sheet_of(const PadFigure& figure) {
  return {figure.conclusion,
          figure.earphone_title,
          figure.caption,
          {current_panel(figure), span_panel(figure)}};
}

}  // namespace ohmtilt::plots
