#pragma once
// What the parts of `acquire` share: each adds itself as a subcommand.
#include <optional>
#include <string>

#include <ohmtilt/curve/impedance_curve.h>
#include <ohmtilt/measure/impedance.h>
#include <tools/ohmtilt/commands/acquire_cautions.h>
#include <tools/ohmtilt/program/command.h>

namespace ohmtilt::cli {

void add_stimulus(Command& acquire, Session& session);
void add_impedance(Command& acquire, Session& session);
void add_readings(Command& acquire, Session& session);
void add_source(Command& acquire, Session& session);

/// What the second channel sees: load or reference.
void add_wiring_option(Command& command, Wiring& wiring);
/// --reference and --reference-tolerance-percent; what the resistor is for, in the help.
Option add_reference_option(Command& command, std::optional<double>& ohm,
                            const std::string& what_for = "");
void add_reference_tolerance_option(Command& command, std::optional<double>& percent);

/// What a curve's file says of it besides the numbers: --title, --condition.
struct CurveLabels {
  std::optional<std::string> title, condition;
};
void add_label_options(Command& command, CurveLabels& labels);

/// The curve as the user names it. uncertainty_known false: it goes, because not known is not zero.
/// remark is added to its origin; it may be empty.
ImpedanceCurve labelled(const ImpedanceCurve& curve, const CurveLabels& labels,
                        const std::string& remark, bool uncertainty_known = true);

/// acquire_cautions as sentences of a help text.
std::string acquire_caution_footer();

/// Of a limit of error that was not given, and so counts as nothing.
inline const char* const exact_reference =
    "the reference was taken as exact: give --reference-tolerance-percent (0 if it is)";

/// A curve's range, and a table of some twenty of its points with these phases (may be empty).
std::string curve_summary(const ImpedanceCurve& curve);
std::string curve_table(const ImpedanceCurve& curve, const Array& phase_deg);

}  // namespace ohmtilt::cli
