#pragma once
#include <plots/panel.h>

#include <string>

namespace ohmtilt::plots {

/// An empty panel over the range of hz (20 Hz to 20 kHz where there is none), of a height relative
/// to 1, sharing its frequency axis with the panel below it.
Panel frequency_panel(const Array& hz, double height, const std::string& heading);

/// The phase of an impedance in ink, about a rule at zero.
Panel impedance_phase_panel(const Array& hz, const Array& phase_deg, double height);

}  // namespace ohmtilt::plots
