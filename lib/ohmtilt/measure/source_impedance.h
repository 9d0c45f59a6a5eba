#pragma once
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/base/array.h>

namespace ohmtilt {

/// One voltage read across one load at an amplifier's output. load_ohm is positive; infinity is
/// the open output.
struct LoadReading {
  double load_ohm;
  double volt;
};

/// What is known of the meter and of the loads. Limits, taken as rectangular distributions.
struct SourceAccuracy {
  double meter_percent = 0;      ///< of the reading, >= 0
  double meter_counts_volt = 0;  ///< +-volt, whatever the reading, >= 0
  double load_percent = 0;       ///< of each load, each for itself, >= 0
  bool correlated = false;       ///< same meter, same range: the percentage is one common error
  double least_load_ohm = 8;     ///< never advise a load below this (an amplifier's current limit)
};

/// Output impedance of an amplifier at one frequency.
struct SourceImpedance {
  double output_ohm;
  double uncertainty_ohm;                 ///< one standard uncertainty
  double open_volt;                       ///< e.m.f. that the readings imply
  bool differs_from_zero;                 ///< output_ohm > 2 uncertainty_ohm
  std::optional<double> better_load_ohm;  ///< against the lightest load read, if it helps over 10 %
  double better_uncertainty_ohm;          ///< what that load would give; else uncertainty_ohm
  bool agrees = true;                     ///< false: three loads or more that no one value explains
  std::vector<std::string> warnings;
};

/// From voltages at two loads or more (or open and loaded): 1/V = (1 + Rs/R)/E is a straight line
/// over the conductance 1/R, fitted with weights V^4; for two loads this is
/// Rs = R1 R2 (V1 - V2)/(V2 R1 - V1 R2). Resistive: of a complex output impedance magnitudes alone
/// give the value that a resistance would have. Uncertainty by linear propagation (GUM), and where
/// three loads or more disagree by 3.5 standard uncertainties (of 1 % limits where less is said)
/// as much as they do.
/// Throws InputError for fewer than two different loads, values that are not positive, or voltages
/// that rise so much with a heavier load that no output impedance gives them.
SourceImpedance source_impedance(const std::vector<LoadReading>& readings,
                                 const SourceAccuracy& accuracy = {});

/// The same over frequency; every frequency has its own readings.
struct SourceReadings {
  double frequency_hz;
  std::vector<LoadReading> readings;
};
struct SourceCurve {
  Array frequency_hz, output_ohm, uncertainty_ohm;
  std::optional<double>
      better_load_ohm;  ///< at the frequency with the largest relative uncertainty
  std::vector<std::string> warnings;
};
SourceCurve source_impedance(const std::vector<SourceReadings>& readings,
                             const SourceAccuracy& accuracy = {});

}  // namespace ohmtilt
