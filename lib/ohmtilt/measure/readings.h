#pragma once
#include <string>
#include <vector>

#include <ohmtilt/curve/impedance_curve.h>

namespace ohmtilt {

/// Meter readings over frequency: rms volts across reference plus earphone, across the earphone,
/// across the reference, and rms current. A quantity that was not read is empty.
struct MeterReadings {
  Array frequency_hz;
  Array volt_both, volt_load, volt_reference, ampere;
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
  ratio_of_load,      ///< |Z/(Z + R)| read, its minimum phase computed, then Z
  ratio_of_reference  ///< |R/(Z + R)| read, its minimum phase computed, then Z
};
/// "impedance from voltage and current" and so on, for people.
std::string to_string(ReadingMethod method);

struct ReadImpedance {
  ImpedanceCurve curve;  ///< magnitude-only for the first two methods, with phase for the others
  ReadingMethod method;
  std::vector<std::string> warnings;
};

/// Impedance from meter readings. Two voltages of which one spans both parts give only the modulus
/// of a divider's ratio; that ratio is itself minimum-phase, so its phase follows from its modulus
/// over frequency, and then Z. uncertainty_ohm is the meter's and resistor's by linear propagation
/// (GUM), and for the ratios what frequencies beyond the readings leave open.
/// reference_ohm may be 0 for the method `current` only.
/// Throws InputError for missing quantities, readings that are not positive, a part above the whole
/// by more than the meter's error, or too few frequencies for a phase.
ReadImpedance impedance_of_readings(const MeterReadings& readings, double reference_ohm,
                                    const ReadingAccuracy& accuracy = {});

}  // namespace ohmtilt
