#pragma once
// Several measurements of one earphone, or of its two sides.
#include <vector>

#include <ohmtilt/curve/impedance_curve.h>

namespace ohmtilt {

/// The mean of repeated measurements.
struct RepeatedCurve {
  ImpedanceCurve curve;  ///< on the frequencies that all takes have; notes of the first
  /// One standard uncertainty per axis (ohm): what changes from take to take, of one take, and what
  /// does not and so is not lowered by more of them. Of one take alone, all of it is the latter.
  Array random_ohm, steady_ohm;
};

/// The complex mean of takes, which must have phase and uncertainty. The scatter between them,
/// pooled over an octave, is their random part s (of two takes it is good to some 15 %); of their
/// own uncertainty u the rest is steady, and the mean's is sqrt(max(u^2 - s^2, 0) + s^2/n). Throws
/// InputError for no take, or fewer than two frequencies in common.
RepeatedCurve mean_of_repeats(const std::vector<ImpedanceCurve>& takes);

/// The limit (95 %, two standard uncertainties) of |Z| that nine of ten frequencies keep, in
/// percent of |Z|.
double stated_percent(const ImpedanceCurve& curve, const Array& uncertainty_ohm);

/// How many takes bring stated_percent to that many percent: 0 where no number of them does.
int takes_needed(const RepeatedCurve& repeated, double percent);

/// One side over the other.
struct CurveDifference {
  Array frequency_hz;
  Array percent;         ///< |Z| of the second over the first, less 1
  Array uncertainty_95;  ///< its limit (95 %), both taken as independent: what they share cancels
  Eigen::Index largest;  ///< where |percent| is largest
  bool seen = false;     ///< it lies beyond its uncertainty at more than one in ten frequencies
};

/// Throws InputError for fewer than two frequencies in common.
CurveDifference difference_of(const ImpedanceCurve& first, const ImpedanceCurve& second);

}  // namespace ohmtilt
