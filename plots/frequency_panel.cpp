#include <plots/axis.h>
#include <plots/frequency_panel.h>

namespace ohmtilt::plots {

Panel frequency_panel(const Array& hz, double height, const std::string& heading) {
  Panel panel;
  panel.heading = heading;
  panel.x = frequency_axis(hz.size() > 0 ? Band{hz[0], hz[hz.size() - 1]} : Band{});
  panel.height = height;
  panel.shares_x = true;
  return panel;
}

Panel impedance_phase_panel(const Array& hz, const Array& phase_deg, double height) {
  Panel panel = frequency_panel(hz, height, "Phase of Z, degrees");
  Limits limits;
  limits.add(phase_deg);
  panel.y = degree_axis(limits);
  panel.lines.push_back({"", hz, phase_deg, ink});
  panel.rules.push_back({Rule::Direction::level, 0, false});
  return panel;
}

Panel changes_panel(const Array& hz, const std::vector<ChangeCurve>& changes,
                    const std::string& heading, const std::string& unit) {
  constexpr double least_span = 1e-3;
  Panel panel = frequency_panel(hz, 0.8, heading);
  Limits limits;
  limits.add(0);
  for (std::size_t i = 0; i < changes.size(); ++i) {
    limits.add(changes[i].change);
    panel.lines.push_back({changes[i].label, hz, changes[i].change, static_cast<Series>(i)});
  }
  panel.y = linear_axis(limits, {.label = unit, .least_span = least_span, .with_sign = true});
  panel.rules.push_back({Rule::Direction::level, 0, false});
  return panel;
}

}  // namespace ohmtilt::plots
