#pragma once
// Circuits whose every part is a rational function of s, ready to be written as differential
// equations.
#include <ohmtilt/base/frequency_grid.h>
#include <ohmtilt/circuit/circuit.h>
#include <ohmtilt/model/rational_model.h>

#include <optional>
#include <string>
#include <vector>

namespace ohmtilt {

struct RationalCircuit {
  Circuit circuit;  ///< elementary parts only: no drivers, lossy or coupled inductors, curves
  bool approximated = false;  ///< a part had to be
  /// The same with its lossy inductors k s^n as they stand, for what must hold off the frequency
  /// axis; nothing where there are none.
  std::optional<Circuit> power_laws;
  std::vector<std::string> warnings;
};

/// The same circuit at its ports. Drivers become their elementary parts; coupled inductors an ideal
/// transformer with its two inductances (the exact equivalent); lossy inductors resistances and
/// inductances within 0.1 % over band; a capacitor with a loss tangent, which no passive circuit
/// keeps constant, a constant-phase element that agrees at its driver's first resonance (1 kHz
/// without one); a curve the passive circuit fitted to it. Throws InputError as their fits do.
RationalCircuit rational_circuit(const Circuit& circuit, const Band& band = {});

/// Largest |model - Z|/|Z| of the circuit's port over the band, as far as its curves reach, in
/// percent.
double model_error_percent(const RationalModel& model, const Circuit& circuit, const Band& band,
                           std::string_view port = {});

/// A one-port of that impedance between "tip" and "sleeve": its constant and proportional term as
/// they are, each pole as a capacitor of 1 F with controlled sources (one or two a term), whatever
/// the signs.
Circuit circuit_of(const RationalModel& impedance, const std::string& title);

}  // namespace ohmtilt
