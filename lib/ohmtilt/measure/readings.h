#pragma once
#include <string>
#include <vector>

#include <ohmtilt/curve/impedance_curve.h>
#include <ohmtilt/text/error.h>

namespace ohmtilt {

/// Meter readings over frequency: rms volts across reference plus earphone, across the earphone,
/// across the reference, and rms current. A quantity that was not read is empty.
struct MeterReadings {
  Array frequency_hz;
  Array volt_both, volt_load, volt_reference, ampere;
  std::vector<Place> places = {};  ///< where each row stands; empty for readings made in memory
};

/// Limits, taken as rectangular distributions.
struct ReadingAccuracy {
  double meter_percent = 0;                ///< of each reading, >= 0
  double meter_counts_volt = 0;            ///< +-volt of each voltage, >= 0
  double reference_tolerance_percent = 0;  ///< >= 0
  bool correlated = false;  ///< same meter, same range: the percentage is one common error
};

enum class ReadingMethod {
  current,            ///< |Z| = V load / I
  reference_volt,     ///< |Z| = R V load / V reference
  ratio_of_load,      ///< |Z/(Z + R)| read, the phase of 1 + R/Z computed, then Z
  ratio_of_reference  ///< |R/(Z + R)| read, the phase of 1 + Z/R computed, then Z
};
/// Where a phase comes from: nowhere, from magnitudes alone (minimum phase), or its size from the
/// triangle of three voltages and its sign from magnitudes.
enum class PhaseSource { none, computed, triangle };
/// "impedance from voltage and current" and so on, for people.
std::string to_string(ReadingMethod method);

struct ReadImpedance {
  ImpedanceCurve
      curve;  ///< magnitudes alone, with one standard uncertainty: no meter reads a phase
  ReadingMethod method;
  PhaseSource phase_source = PhaseSource::none;
  Array phase_deg = {}, phase_uncertainty_deg = {};  ///< one standard uncertainty; empty for none
  std::vector<std::string> warnings = {};
};

/// How these quantities tell an impedance. Throws InputError where they do not.
ReadingMethod method_for(const MeterReadings& readings);

/// Impedance from meter readings. Two voltages of which one spans both parts give only the modulus
/// of a divider's ratio; the phase that belongs to it is computed (divider_impedance.h), and then
/// Z. Three voltages form a triangle, Vb^2 = Vl^2 + Vr^2 + 2 Vl Vr cos(phase), which tells the
/// phase's size: least squares of the cosine and of the minimum phase of |Z|, each by its own
/// uncertainty, since the cosine says little near 0 degrees and nothing of the sign.
/// Uncertainties are the meter's and resistor's by linear propagation (GUM), and for a computed
/// phase what frequencies beyond and between the readings leave open.
/// reference_ohm may be 0 for the method `current` only.
/// Throws InputError, with the row's place where there is one, for missing quantities, readings
/// that are not positive, a part above the whole or three voltages that form no triangle of a
/// passive impedance (by more than three standard uncertainties, of a meter of 1 % where less is
/// said), or too few frequencies for a phase.
ReadImpedance impedance_of_readings(const MeterReadings& readings, double reference_ohm,
                                    const ReadingAccuracy& accuracy = {});

}  // namespace ohmtilt
