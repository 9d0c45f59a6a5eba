#pragma once
// Whether the levels of the first channel fit one another when no gain moved between recordings.
#include <vector>

#include <ohmtilt/measure/impedance.h>

namespace ohmtilt {

/// One gain whose move between the calibrations and the measurement would explain the levels.
struct MovedGain {
  enum class Which {
    volume,  ///< the source's, or both inputs' alike: the impedance is none the worse
    first,   ///< the first input's
    second   ///< the second input's
  };
  Which which;
  double db;       ///< by how much it would have moved
  double left_db;  ///< rms of what it leaves unexplained
  /// What the recorded ratio is to be multiplied by if this is what moved.
  double ratio_factor() const;
};

struct LevelCheck {
  /// There are levels, and one of a recording in which nothing loads the source.
  bool possible = false;
  double left_db = 0;     ///< rms that is left of the levels when no gain moved
  double limit_db = 0;    ///< what may be left of levels that fit
  double source_ohm = 0;  ///< the source's output resistance, if no gain moved
  /// What would explain levels that do not fit, the likeliest first: empty where they fit, at
  /// least one elsewhere.
  std::vector<MovedGain> moved;
  /// How far each input's gain could have moved unseen, where the levels fit: infinite where they
  /// do not tell.
  double first_within_db = 0, second_within_db = 0;

  bool explained_by(MovedGain::Which which) const;
};

/// A source of output impedance Zs = Rs + j w Ls + 1/(j w Cs) falls by |1 + Zs q/R| under a load
/// that takes the share q = R/(Z + R) of the current into the reference alone: q = 1 - m at the
/// earphone and m at the reference, 1 for a short, 0 for nothing. So the levels of all recordings
/// have Rs, Ls and Cs in common, and 1/level is a straight line over m, whose offset and slope a
/// moved gain changes: 1 + k = 1 + Zs/R and k become (1 + k)/g1 and k/g2 at the earphone, 1/g1 and
/// k/g2 at the reference. An impedance that is flat leaves one point of that line, which a moved
/// gain and another source explain alike unless a short (or a known resistor) tells the source; a
/// second input behind a source without impedance is not seen at all. Fitted from 100 Hz to 10 kHz
/// by least squares. Throws nothing.
LevelCheck level_check(const Transfer& measured, const Calibration& calibration,
                       const MeasuredImpedance& impedance, const ImpedanceOptions& options);

}  // namespace ohmtilt
