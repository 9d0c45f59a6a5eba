#pragma once
// What `ohmtilt pad --steps` says of a switched attenuator: JSON, text, table, figure, schematic.
#include <plots/figures/attenuator_figure.h>
#include <plots/figures/schematic.h>
#include <tools/ohmtilt/commands/pad_answer.h>

namespace ohmtilt::cli {

Json ladder_json(const SwitchedAttenuator& ladder);
/// Begins with one sentence to quote.
std::string ladder_text(const PadReport& report);
CsvTable ladder_csv(const SwitchedAttenuator& ladder);
/// What the amplifier may not like: a load below the earphone's own, a current beyond its limit.
std::vector<std::string> ladder_warnings(const PadReport& report, const PadSite& site);

/// Of the switch, which report.ladder has.
plots::AttenuatorFigure attenuator_figure(const PadReport& report, const PadSite& site);
/// The row of resistors with a terminal at each joint.
plots::Schematic ladder_schematic(const SwitchedAttenuator& ladder);

}  // namespace ohmtilt::cli
