#pragma once
#include <plots/panel.h>

#include <string>
#include <vector>

namespace ohmtilt::plots {

/// An empty panel over the range of hz (20 Hz to 20 kHz where there is none), of a height relative
/// to 1, sharing its frequency axis with the panel below it.
Panel frequency_panel(const Array& hz, double height, const std::string& heading);

/// The phase of an impedance in ink, about a rule at zero.
Panel impedance_phase_panel(const Array& hz, const Array& phase_deg, double height);

/// What a small change of one value does over frequency.
struct ChangeCurve {
  std::string label;
  Array change;
};

/// A line each about a rule at zero, on an axis that fits them, however small.
Panel changes_panel(const Array& hz, const std::vector<ChangeCurve>& changes,
                    const std::string& heading, const std::string& unit);

}  // namespace ohmtilt::plots
