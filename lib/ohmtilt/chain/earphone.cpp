#include <ohmtilt/base/decibel.h>
#include <ohmtilt/chain/earphone.h>
#include <ohmtilt/circuit/solver.h>
#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/curve/minimum_phase.h>
#include <ohmtilt/text/characters.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <cmath>

namespace ohmtilt {

const char* to_string(PhaseOrigin phase) {
  switch (phase) {
    case PhaseOrigin::measured:
      return "measured";
    case PhaseOrigin::minimum:
      return "minimum";
    case PhaseOrigin::computed:
      return "computed";
  }
  return "";
}

namespace {

/// The impedance of the circuit; throws InputError by the earphone's name where it is 0 ohm, which
/// no earphone is and whose logarithm means nothing.
OnePort impedance_of(const Circuit& circuit, const std::string& title) {
  const OnePort bare = one_port(circuit);
  const std::string name = printable(title);
  return {bare.range(), [bare, name](const Array& hz) {
            ComplexArray ohm = bare.at(hz);
            for (Eigen::Index i = 0; i < ohm.size(); ++i)
              if (ohm[i] == 0.0)
                throw InputError(
                    "the impedance of " + name + " is 0 ohm at " + number_text(hz[i]) + " Hz",
                    "give its circuit a resistance; no earphone is a short circuit");
            return ohm;
          }};
}

/// What earphone_from_curve and earphone_from_circuit have in common: all else is unknown.
Earphone bare_earphone(std::string title, OnePort impedance, PhaseOrigin phase) {
  return {std::move(title), std::move(impedance), phase, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}};
}

}  // namespace

Earphone earphone_from_curve(const ImpedanceCurve& curve) {
  const std::string title = one_line(curve.notes().title);
  if (curve.has_phase()) {
    Earphone earphone = bare_earphone(title, one_port(curve), PhaseOrigin::measured);
    earphone.curve = curve;
    return earphone;
  }
  const MinimumPhase phase = minimum_phase(curve);
  Earphone earphone =
      bare_earphone(title, one_port(curve.with_phase(phase.phase_deg)), PhaseOrigin::minimum);
  earphone.curve = curve;
  earphone.phase_spread = end_spread(phase);
  earphone.warnings = {printable(title) + " has no phase; its minimum phase is used"};
  return earphone;
}

Earphone earphone_from_circuit(const Circuit& circuit) {
  const std::string stem = std::filesystem::path(circuit.draft().file).stem().stem().string();
  const std::string& title = circuit.title().empty() ? stem : circuit.title();
  Earphone earphone =
      bare_earphone(one_line(title), impedance_of(circuit, one_line(title)), PhaseOrigin::computed);
  earphone.circuit = circuit;
  return earphone;
}

double db_per_volt_from_milliwatt(double db_per_milliwatt, double ohm) {
  if (!(ohm > 0) || !std::isfinite(ohm))
    throw InputError(
        "an impedance of " + number_text(ohm) + " ohm is not allowed for a sensitivity at 1 mW",
        "give a positive number of ohms");
  return db_per_milliwatt + db_from_power(1000 / ohm);
}

}  // namespace ohmtilt
