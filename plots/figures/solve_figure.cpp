#include <plots/axis.h>
#include <plots/figures/solve_figure.h>
#include <plots/frequency_panel.h>

namespace ohmtilt::plots {
namespace {

Panel magnitude_panel(const SolveFigure& figure) {
  Panel panel = frequency_panel(figure.frequency_hz, 1, "Impedance |Z|, ohm");
  Limits limits;
  limits.add(figure.magnitude_ohm);
  if (figure.band_lower_ohm.size() > 0) {
    limits.add(figure.band_lower_ohm);
    limits.add(figure.band_upper_ohm);
    panel.areas.push_back({figure.frequency_hz, figure.band_lower_ohm, figure.band_upper_ohm, 0});
    panel.remark = "light band: 5 % to 95 % of all draws";
  }
  panel.y = log_axis(limits, "ohm");
  panel.lines.push_back({"", figure.frequency_hz, figure.magnitude_ohm, 0});
  return panel;
}

Panel transfer_panel(const SolveFigure& figure) {
  Panel panel = frequency_panel(figure.frequency_hz, 0.8, figure.transfer_heading);
  Limits limits;
  for (std::size_t i = 0; i < figure.transfers.size(); ++i) {
    const TransferCurve& curve = figure.transfers[i];
    const auto series = static_cast<Series>(i);
    limits.add(curve.magnitude_db);
    panel.lines.push_back({curve.label, figure.frequency_hz, curve.magnitude_db, series});
    if (curve.band_lower_db.size() == 0) continue;
    limits.add(curve.band_lower_db);
    limits.add(curve.band_upper_db);
    panel.areas.push_back({figure.frequency_hz, curve.band_lower_db, curve.band_upper_db, series});
  }
  panel.y = level_axis(limits);
  return panel;
}

}  // namespace

Sheet sheet_of(const SolveFigure& figure) {
  Sheet sheet{figure.conclusion, figure.circuit_title, figure.caption, {}};
  sheet.panels.push_back(magnitude_panel(figure));
  sheet.panels.push_back(impedance_phase_panel(figure.frequency_hz, figure.phase_deg, 0.45));
  sheet.panels.back().in_terminal = figure.transfers.empty();
  if (!figure.transfers.empty()) sheet.panels.push_back(transfer_panel(figure));
  if (!figure.changes.empty())
    sheet.panels.push_back(
        changes_panel(figure.frequency_hz, figure.changes, "Change of |Z| for 1 % more, %", "%"));
  sheet.panels.back().shares_x = false;
  return sheet;
}

}  // namespace ohmtilt::plots
