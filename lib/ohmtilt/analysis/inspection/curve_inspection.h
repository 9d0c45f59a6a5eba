#pragma once
// What an impedance curve is worth.
#include <ohmtilt/analysis/inspection/causality.h>
#include <ohmtilt/analysis/inspection/curve_findings.h>
#include <ohmtilt/curve/impedance_curve.h>
#include <ohmtilt/curve/peaks.h>

#include <optional>
#include <string>
#include <vector>

namespace ohmtilt {

struct InspectionOptions {
  CausalityOptions causality;
  FindingOptions findings;
  std::optional<double> rated_ohm;  ///< one to check
};

struct ImpedanceAt {
  double hz = 0, ohm = 0;
};

struct CurveInspection {
  double points_an_octave = 0;
  std::optional<double> at_20_hz_ohm, at_1_khz_ohm, at_20_khz_ohm;  ///< nothing outside the data
  ImpedanceAt lowest, highest;
  double dc_ohm = 0;     ///< estimate: the real part, or the modulus, at the lowest frequency
  double rated_ohm = 0;  ///< the largest that conforms: lowest / 0.8 (IEC 60268-7, 8.2.1 b)
  std::optional<bool> rated_conforms;  ///< of the one asked for
  std::vector<ImpedanceAt> resonances;
  bool passive = true;                 ///< no negative resistance was measured
  double noise_percent = 0;            ///< one standard deviation of |Z|
  std::optional<Causality> causality;  ///< nothing without phase, 8 points and an octave
  std::vector<Finding> findings;
  bool usable = true;  ///< no fault makes every result wrong
  double whole_95_db = 0;
  std::optional<double> hidden_q;                     ///< DeviationInterval::hidden_q
  std::string for_reviewer, for_designer, for_owner;  ///< the verdict, a sentence each
};

/// whole_95_db is DeviationInterval::whole_95_db of 6 ohm in place of 0 (anchor 1 kHz, or the
/// middle of the band; within 20 Hz to 20 kHz): what `deviation` states for the same sources. Of
/// magnitudes over too short a range for a phase: half of what any passive phase would leave open.
CurveInspection inspect(const ImpedanceCurve& curve, const InspectionOptions& options = {});

}  // namespace ohmtilt
