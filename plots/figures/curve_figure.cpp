#include <plots/axis.h>
#include <plots/figures/curve_figure.h>
#include <plots/frequency_panel.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace ohmtilt::plots {
namespace {

constexpr Series compared_series = 1, resonance_series = 2, first_finding_series = 3;
constexpr double label_above = 0.055;               // of the panel's height
constexpr double half_text = 0.025;                 // of it
constexpr double near_across = 0.1, near_up = 0.1;  // labels nearer than that would meet

Points marks(const std::string& label, const std::vector<MarkedPlace>& places, Series series) {
  const auto count = static_cast<Eigen::Index>(places.size());
  Points points{label, Array(count), Array(count), {}, series};
  for (Eigen::Index i = 0; i < count; ++i) {
    points.x[i] = places[static_cast<std::size_t>(i)].hz;
    points.y[i] = places[static_cast<std::size_t>(i)].ohm;
  }
  return points;
}

/// One series a kind of finding, in their order.
void add_findings(const std::vector<MarkedPlace>& findings, Panel& panel) {
  std::vector<std::pair<std::string, std::vector<MarkedPlace>>> kinds;
  for (const MarkedPlace& place : findings) {
    if (kinds.empty() || kinds.back().first != place.text) kinds.push_back({place.text, {}});
    kinds.back().second.push_back(place);
  }
  Series series = first_finding_series;
  for (const auto& [kind, places] : kinds) panel.points.push_back(marks(kind, places, series++));
}

/// The highest that the line stands between two places of the panel's width, as a fraction.
double highest(const Panel& panel, const Line& line, double from, double to) {
  double up = 0;
  for (Eigen::Index i = 0; i < line.x.size(); ++i) {
    const double across = panel.x.fraction(line.x[i]);
    if (across >= from && across <= to) up = std::max(up, panel.y.fraction(line.y[i]));
  }
  return up;
}

/// In which direction there is room for a text above a mark: to both sides, if it can be.
Note::Side free_side(const Panel& panel, double across, double text_up) {
  constexpr double half = 0.055;  // of a text, of the panel's width
  const Line& line = panel.lines.front();
  const bool left = across > half && highest(panel, line, across - half, across) < text_up;
  const bool right = across < 1 - half && highest(panel, line, across, across + half) < text_up;
  if (across > 1 - near_across || (left && !right)) return Note::Side::right;
  if (across < near_across || (right && !left)) return Note::Side::left;
  return Note::Side::centre;
}

/// What a mark is, above it and inside the panel; of marks that are close the highest has its text.
void add_texts(std::vector<MarkedPlace> places, Panel& panel) {
  std::stable_sort(places.begin(), places.end(),
                   [](const auto& a, const auto& b) { return a.ohm > b.ohm; });
  std::vector<std::pair<double, double>> taken;
  for (const MarkedPlace& place : places) {
    const double across = panel.x.fraction(place.hz), up = panel.y.fraction(place.ohm);
    const bool meets = std::any_of(taken.begin(), taken.end(), [&](const auto& other) {
      return std::abs(across - other.first) < near_across && std::abs(up - other.second) < near_up;
    });
    if (meets) continue;
    taken.emplace_back(across, up);
    const double higher = std::pow(panel.y.high / panel.y.low, label_above);
    panel.notes.push_back({free_side(panel, across, up + label_above - half_text), place.hz,
                           place.ohm * higher, place.text});
  }
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
  limits.add(figure.smooth_ohm);
  panel.y = log_axis(limits, "ohm");
  add_lines(figure, figure.magnitude_ohm, figure.compared.magnitude_ohm, panel);
  if (figure.smooth_hz.size() > 0) {
    panel.lines.front() = {"curve", figure.smooth_hz, figure.smooth_ohm, ink};
    panel.points.push_back({"the points", figure.frequency_hz, figure.magnitude_ohm, {}, 0});
  }
  if (!figure.resonances.empty())
    panel.points.push_back(marks("resonance", figure.resonances, resonance_series));
  add_findings(figure.findings, panel);
  add_texts(figure.resonances, panel);
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

Sheet sheet_of(const CurveFigure& figure) {
  Sheet sheet{figure.conclusion, figure.curve_title, figure.caption, {}};
  sheet.panels.push_back(magnitude_panel(figure));
  if (figure.phase_deg.size() > 0 || figure.compared.phase_deg.size() > 0)
    sheet.panels.push_back(phase_panel(figure));
  if (!figure.residuals.empty()) sheet.panels.push_back(residual_panel(figure));
  sheet.panels.back().shares_x = false;
  return sheet;
}

}  // namespace ohmtilt::plots
