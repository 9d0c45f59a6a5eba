#include <plots/axis.h>
#include <plots/figures/overview_figure.h>
#include <plots/frequency_panel.h>

#include <algorithm>

namespace ohmtilt::plots {
namespace {

Band widest_band(const OverviewFigure& figure) {
  Band band{figure.curves[0].frequency_hz[0], 0};
  for (const auto& curve : figure.curves) {
    band.low_hz = std::min(band.low_hz, curve.frequency_hz[0]);
    band.high_hz = std::max(band.high_hz, curve.frequency_hz[curve.frequency_hz.size() - 1]);
  }
  return band;
}

}  // namespace

Sheet sheet_of(const OverviewFigure& figure) {
  Panel panel;
  panel.heading = "Deviation, dB";
  panel.remark = figure.remark;
  panel.x = frequency_axis(widest_band(figure));
  panel.height = 1.4;
  panel.rules.push_back({Rule::Direction::level, 0, false});
  Limits limits;
  for (const auto& curve : figure.curves) limits.add(curve.deviation_db);
  panel.y = deviation_axis(limits);
  for (std::size_t i = figure.curves.size(); i-- > 0;) {  // what changes most lies on top
    const auto& curve = figure.curves[i];
    const bool named = i < most_named_curves;
    panel.lines.push_back({named ? curve.label : "", curve.frequency_hz, curve.deviation_db,
                           named ? static_cast<Series>(i) : ink});
  }
  return {figure.title, figure.subtitle, figure.caption, {panel}};
}

}  // namespace ohmtilt::plots
