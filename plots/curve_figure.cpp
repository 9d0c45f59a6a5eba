#include <plots/axis.h>
#include <plots/curve_figure.h>
#include <plots/frequency_panel.h>

namespace ohmtilt::plots {
namespace {

constexpr Series compared_series = 1, resonance_series = 2, finding_series = 3;

Points marks(const std::string& label, const std::vector<MarkedPlace>& places, Series series) {
  const auto count = static_cast<Eigen::Index>(places.size());
  Points points{label, Array(count), Array(count), {}, series};
  for (Eigen::Index i = 0; i < count; ++i) {
    const MarkedPlace& place = places[static_cast<std::size_t>(i)];
    points.x[i] = place.hz;
    points.y[i] = place.ohm;
    points.texts.push_back(place.text);
  }
  return points;
}

/// The curve in ink, and dashed above it what it is compared with, so that both are seen.
void add_lines(const CurveFigure& figure, const Array& measured, const Array& compared,
               Panel& panel) {
  if (measured.size() > 0) panel.lines.push_back({"curve", figure.frequency_hz, measured, ink});
  if (compared.size() > 0)
    panel.lines.push_back({figure.compared.label, figure.frequency_hz, compared, compared_series});
}

Panel magnitude_panel(const CurveFigure& figure) {
  Panel panel = frequency_panel(figure.frequency_hz, 1, "Impedance |Z|, ohm");
  Limits limits;
  limits.add(figure.magnitude_ohm);
  limits.add(figure.compared.magnitude_ohm);
  panel.y = log_axis(limits, "ohm");
  add_lines(figure, figure.magnitude_ohm, figure.compared.magnitude_ohm, panel);
  if (!figure.resonances.empty())
    panel.points.push_back(marks("resonance", figure.resonances, resonance_series));
  if (!figure.findings.empty())
    panel.points.push_back(marks("finding", figure.findings, finding_series));
  return panel;
}

Panel phase_panel(const CurveFigure& figure) {
  Panel panel = frequency_panel(figure.frequency_hz, 0.6, "Phase of Z, degrees");
  panel.in_terminal = false;
  Limits limits;
  limits.add(figure.phase_deg);
  limits.add(figure.compared.phase_deg);
  panel.y = degree_axis(limits);
  panel.rules.push_back({Rule::Direction::level, 0, false});
  add_lines(figure, figure.phase_deg, figure.compared.phase_deg, panel);
  return panel;
}

Panel residual_panel(const CurveFigure& figure) {
  Panel panel = frequency_panel(figure.frequency_hz, 0.6, "Residual, % of |Z|");
  Limits limits;
  limits.add(0);
  Series series = 0;
  for (const ResidualCurve& residual : figure.residuals) {
    limits.add(residual.percent);
    panel.lines.push_back({residual.label, figure.frequency_hz, residual.percent, series++});
  }
  LinearAxis axis;
  axis.label = "%";
  axis.least_span = 0.2;  // what no instrument resolves looks flat
  axis.with_sign = true;
  panel.y = linear_axis(limits, axis);
  panel.rules.push_back({Rule::Direction::level, 0, false});
  return panel;
}

}  // namespace

Sheet curve_sheet(const CurveFigure& figure) {
  Sheet sheet;
  sheet.title = figure.conclusion;
  sheet.subtitle = figure.curve_title;
  sheet.caption = figure.caption;
  sheet.panels.push_back(magnitude_panel(figure));
  if (figure.phase_deg.size() > 0 || figure.compared.phase_deg.size() > 0)
    sheet.panels.push_back(phase_panel(figure));
  if (!figure.residuals.empty()) sheet.panels.push_back(residual_panel(figure));
  sheet.panels.back().shares_x = false;
  return sheet;
}

void draw(const CurveFigure& figure, const Output& output) { draw(curve_sheet(figure), output); }

}  // namespace ohmtilt::plots
