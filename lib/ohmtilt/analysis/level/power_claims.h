#pragma once
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/analysis/level/claim_consistency.h>
#include <ohmtilt/chain/chain.h>

namespace ohmtilt {

/// What ends an amplifier's clean level into a load.
enum class Limit { voltage, current, earphone };
/// "voltage", "current" or "earphone".
const char* to_string(Limit limit);

/// The two limits of an amplifier with an output resistance.
struct SourceLimits {
  double open_volt = 0;  ///< rms without load
  double output_ohm = 0;
  std::optional<double> max_ampere;  ///< rms; nothing: no limit is known
};

/// Largest power into a resistance, and which limit rules there (voltage where both do).
struct LimitedPower {
  double watt = 0;
  Limit limited_by = Limit::voltage;
};
/// min(E R/(R + Ro), I R)^2 / R: Ohm's law. load_ohm > 0.
LimitedPower largest_power(const SourceLimits& limits, double load_ohm);

/// One claimed point against the limits that were fitted.
struct JudgedPoint {
  PowerPoint claim;
  Limit limited_by = Limit::voltage;
  double predicted_watt = 0;  ///< by the limits, into the same load
  bool comparable = true;     ///< taken, as stated, under the conditions that the limits hold for
  std::string difference;     ///< what was different; empty where comparable
  /// claim.watt over predicted_watt in dB for a burst: what the short duration flatters.
  std::optional<double> burst_gain_db;
};

struct PowerClaims {
  SourceLimits limits;
  std::string conditions;      ///< that the limits hold for: "continuous, 1 % distortion"
  bool output_fitted = false;  ///< false: output_ohm is the stated one, the points do not tell it
  double rms_error_db = 0;     ///< of the fit's power over the comparable points
  std::vector<JudgedPoint> points;  ///< in the order of the claims
  /// Of the first set of equal conditions that contradicts itself; its breaking points count within
  /// points.
  std::optional<Contradiction> contradiction;
  std::vector<std::string> warnings;
};

/// What is stated of the amplifier besides its power.
struct StatedSource {
  double output_ohm = 0;
  std::optional<double> open_volt;
  bool balanced = false;
};

/// Fits open_volt, output_ohm and max_ampere to the points of one set of conditions (continuous
/// ones before bursts, both before points of no stated duration, then the largest set, then the
/// first), for every division of the loads into
/// current-limited ones below and voltage-limited ones above, and takes the division with the
/// smallest rms error in dB, the simpler one where two are within 0.02 dB. Points of other
/// conditions are predicted, not fitted, and not ranked; nor is a point of no stated duration,
/// which may be a burst. Claims is not empty.
PowerClaims fit_power_claims(const std::vector<PowerPoint>& claims, const StatedSource& stated);

}  // namespace ohmtilt
