// ohmtilt acquire: a sound card and a resistor, or a meter, into an impedance curve.
#include <fmt/format.h>

#include <tools/ohmtilt/commands/acquire.h>
#include <tools/ohmtilt/program/wording.h>
#include <cmath>

namespace ohmtilt::cli {

void add_wiring_option(Command& command, Wiring& wiring) {
  command.add_choice<Wiring>("--wiring", wiring,
                             {{"load", Wiring::load}, {"reference", Wiring::reference}},
                             "what channel 2 lies across: load (the earphone) or reference");
}

Option add_reference_option(Command& command, std::optional<double>& ohm,
                            const std::string& what_for) {
  return command.add_number("--reference", ohm, {.unit = "OHM", .least = 0, .inside = true},
                            "reference resistor, ohm" + what_for);
}

void add_reference_tolerance_option(Command& command, std::optional<double>& percent) {
  command.add_number("--reference-tolerance-percent", percent,
                     {.unit = "PERCENT", .least = 0, .most = 100, .otherwise = "taken as exact"},
                     "its tolerance, %");
}

void add_label_options(Command& command, CurveLabels& labels) {
  command
      .add_option("--title", labels.title,
                  "the curve's title, for tables and figures [the file's name]")
      ->type_name("WORDS");
  command
      .add_option("--condition", labels.condition,
                  "how it was taken: \"sealed in an ear simulator\", \"free air\" [not said]")
      ->type_name("WORDS");
}

ImpedanceCurve labelled(const ImpedanceCurve& curve, const CurveLabels& labels,
                        const std::string& remark, bool uncertainty_known) {
  CurveNotes notes = curve.notes();
  if (labels.title) notes.title = *labels.title;
  if (labels.condition) notes.condition = *labels.condition;
  if (!remark.empty()) notes.origin += (notes.origin.empty() ? "" : "; ") + remark;
  return {notes, curve.frequency_hz(), curve.magnitude_ohm(), curve.phase_deg(),
          uncertainty_known ? curve.uncertainty_ohm() : Array()};
}

std::string acquire_caution_footer() {
  std::string text = "Caution: ";
  for (std::size_t i = 0; i < acquire_cautions.size(); ++i)
    text += (i == 0 ? "" : "; ") + std::string(acquire_cautions[i]);
  return text + ".\n";
}

namespace {

/// What would be written as -0.0 is 0.
double whole_zero(double deg) { return std::abs(deg) < 0.05 ? 0 : deg; }

}  // namespace

std::string curve_table(const ImpedanceCurve& curve, const Array& phase_deg) {
  std::vector<std::vector<std::string>> rows{{"frequency", "|Z|", "phase", "uncertainty"}};
  const Eigen::Index step = std::max<Eigen::Index>(1, curve.points() / 20);
  for (Eigen::Index i = 0; i < curve.points(); i += step)
    rows.push_back(
        {hz_text(curve.frequency_hz()[i]), ohm_text(curve.magnitude_ohm()[i]),
         phase_deg.size() > 0 ? fmt::format("{:.1f} deg", whole_zero(phase_deg[i])) : "-",
         curve.has_uncertainty() ? significant(curve.uncertainty_ohm()[i], 2) + " ohm"
                                 : "not known"});
  return aligned(rows);
}

std::string curve_summary(const ImpedanceCurve& curve) {
  return fmt::format("{} frequencies from {} to {}; {} to {}\n\n", curve.points(),
                     hz_text(curve.range().low_hz), hz_text(curve.range().high_hz),
                     ohm_text(curve.magnitude_ohm().minCoeff()),
                     ohm_text(curve.magnitude_ohm().maxCoeff()));
}

void add_acquire(Command& program, Session& session) {
  Command& command =
      *program.add_subcommand("acquire",
                              "Measure a curve with a sound card and a resistor, "
                              "or with a meter: stimulus, impedance, readings, source");
  command.footer(
      "In this order: stimulus writes a sound and says how to wire; record it; impedance makes the "
      "curve. Each explains itself: ohmtilt acquire stimulus --help");
  command.require_subcommand();
  add_stimulus(command, session);
  add_impedance(command, session);
  add_readings(command, session);
  add_source(command, session);
}

}  // namespace ohmtilt::cli
