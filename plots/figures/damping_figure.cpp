#include <ohmtilt/base/decibel.h>

#include <plots/axis.h>
#include <plots/figures/damping_figure.h>
#include <plots/names.h>
#include <plots/text.h>

#include <algorithm>
#include <cmath>

namespace ohmtilt::plots {
namespace {

constexpr double floor_db = -60;

/// The first source is the neutral one, as in every comparison.
Series source_series(std::size_t index) {
  return index == 0 ? ink : static_cast<Series>(index - 1);
}

/// Names too long to stand beside one another stand below one another.
bool long_names(const DampingFigure& figure) {
  return std::any_of(figure.sources.begin(), figure.sources.end(),
                     [](const DampedSource& source) { return source.label.size() > 10; });
}

std::vector<std::string> source_labels(const DampingFigure& figure) {
  std::vector<std::string> labels;
  for (const auto& source : figure.sources) labels.push_back(drawable(source.label));
  return labels;
}

/// Room for the sources' names above the lines, and the names.
void mark_sources(const DampingFigure& figure, Panel& panel) {
  const double row = long_names(figure) ? std::pow(panel.y.high / panel.y.low, 0.1) : 1;
  panel.y.high *= 1.35 * std::pow(row, static_cast<double>(figure.sources.size()) - 1);
  double height = panel.y.high / 1.1;
  const auto names = shortened_apart(source_labels(figure), 24, columns);
  for (std::size_t i = 0; i < figure.sources.size(); ++i) {
    const double at = std::clamp(figure.sources[i].ohm, panel.x.low, panel.x.high);
    panel.rules.push_back({Rule::Direction::upright, at, true});
    const bool at_end = panel.x.fraction(at) > 0.7;
    panel.notes.push_back({at_end ? Note::Side::right : Note::Side::left,
                           at * (at_end ? 0.95 : 1.05), height, names[i]});
    height /= row;
  }
}

Panel q_panel(const DampingFigure& figure) {
  Panel panel;
  panel.heading = "Q of each resonance";
  panel.x = log_axis({figure.source_ohm[0], figure.source_ohm[figure.source_ohm.size() - 1], false},
                     "source resistance, ohm");
  Limits limits;
  for (const auto& mode : figure.modes) limits.add(mode.q);
  panel.y = log_axis(limits, "Q");
  for (std::size_t i = 0; i < figure.modes.size(); ++i)
    panel.lines.push_back(
        {figure.modes[i].label, figure.source_ohm, figure.modes[i].q, static_cast<Series>(i)});
  mark_sources(figure, panel);
  return panel;
}

bool oscillates(const DampedModeCurve& mode) { return mode.oscillation_hz.isFinite().any(); }

Panel locus_panel(const DampingFigure& figure) {
  Panel panel;
  panel.heading = "Root locus: oscillation Im s/2\u03c0, Hz";
  panel.remark = "marks: 0 ohm and the sources";
  panel.in_terminal = false;
  Limits decay, oscillation;
  for (const auto& mode : figure.modes) {
    decay.add(mode.decay_per_second);
    oscillation.add(mode.oscillation_hz);
  }
  panel.x = log_axis(decay, "decay rate -Re s, 1/s");
  panel.y = log_axis(oscillation, "Hz");
  for (std::size_t i = 0; i < figure.modes.size(); ++i) {
    const auto& mode = figure.modes[i];
    if (!oscillates(mode)) continue;
    const auto series = static_cast<Series>(i);
    panel.lines.push_back({"", mode.decay_per_second, mode.oscillation_hz, series});
    panel.points.push_back(
        {"", mode.source_decay_per_second, mode.source_oscillation_hz, {}, series});
  }
  return panel;
}

double largest_volt(const DampingFigure& figure) {
  double largest = 0;
  for (const auto& source : figure.sources)
    if (source.envelope_volt.size() > 0)
      largest = std::max(largest, source.envelope_volt.maxCoeff());
  return largest;
}

Panel burst_panel(const DampingFigure& figure) {
  Panel panel;
  panel.heading = figure.burst_heading;
  panel.x = exact_axis(0, figure.time_ms[figure.time_ms.size() - 1], "time, ms");
  panel.rules.push_back({Rule::Direction::upright, figure.burst_end_ms, true});
  panel.remark = "envelope; rule: end of the burst";
  Limits limits;
  limits.add(floor_db);
  limits.add(0);
  panel.y = level_axis(limits);
  const double largest = largest_volt(figure);
  for (std::size_t i = 0; i < figure.sources.size(); ++i) {
    const Array level =
        db_from_amplitude(Array((figure.sources[i].envelope_volt / largest).max(1e-12)));
    panel.lines.push_back({figure.sources[i].label, figure.time_ms,
                           (level < floor_db).select(NAN, level), source_series(i)});
  }
  return panel;
}

}  // namespace

Sheet sheet_of(const DampingFigure& figure) {
  Sheet sheet{figure.conclusion, figure.earphone_title, figure.caption, {}};
  if (!figure.modes.empty()) {
    sheet.panels.push_back(q_panel(figure));
    if (std::any_of(figure.modes.begin(), figure.modes.end(), oscillates))
      sheet.panels.push_back(locus_panel(figure));
  }
  if (figure.time_ms.size() > 1 && largest_volt(figure) > 0)
    sheet.panels.push_back(burst_panel(figure));
  return sheet;
}

}  // namespace ohmtilt::plots
