#pragma once
// The passive equivalent circuit of an impedance curve.
#include <ohmtilt/curve/impedance_curve.h>
#include <ohmtilt/model/passive_model.h>

#include <string>

namespace ohmtilt {

struct PassiveFitOptions {
  int largest_order = 40;        ///< most parameters
  int most_resonances = 10;      ///< of all chains
  int most_branches = 4;         ///< connected in parallel; 1: the Foster form
  double enough_percent = 0.02;  ///< rms error below which nothing is added
  double good_percent = 0.1;     ///< rms error below which no other way to grow is tried
};

struct PassiveFit {
  enum class Stop { not_run, exact_enough, no_better_model, largest_order };
  PassiveModel model;
  Stop stop = Stop::not_run;
  int order = 0;  ///< number of parameters
  int resonances = 0;
  double rms_error_percent = 0;  ///< of |Zm - Z| / |Z|; of the modulus for magnitude-only data
  double largest_error_percent = 0;
  double largest_error_hz = 0;
  double phase_error_deg = 0;  ///< rms, of the computed minimum phase for magnitude-only data
  double noise_percent = 0;    ///< rms that the data's own noise is seen to have
  std::string why() const;     ///< the stop in words
  /// Worse than 0.1 % and than the noise of the data: another circuit would follow them closer.
  bool falls_short() const;
};

/// Fits a circuit of positive parts to a curve. Of a magnitude-only one the computed minimum phase
/// (minimum_phase.h) is fitted too, with less weight where the missing ends leave it open. The
/// model starts as a resistance with a lossy inductance and grows by the block, or the parallel
/// branch, that promises the largest drop of the error (its column's projection on what is left of
/// the data after the present parameters), as long as the Bayesian information criterion
/// [Schwarz1978] falls. All parameters are refitted at
/// each step (least_squares.h) in the logarithms of the values, so every value stays positive.
/// Throws InputError for fewer than 8 points, and as minimum_phase().
PassiveFit fit_passive_model(const ImpedanceCurve& curve, const PassiveFitOptions& options = {});

}  // namespace ohmtilt
