#pragma once
// The passive rational model of an impedance curve.
#include <ohmtilt/curve/impedance_curve.h>
#include <ohmtilt/model/rational_model.h>

namespace ohmtilt {

struct RationalFitOptions {
  int order = 0;                 ///< poles, when positive; else chosen
  int largest_order = 24;        ///< of those that are tried
  double enough_percent = 0.02;  ///< rms error below which no pole is added
};

struct RationalFit {
  enum class Passivity { not_run, passive, enforced };
  RationalModel model;
  Passivity passivity = Passivity::not_run;
  double enforced_change_ohm = 0;  ///< largest |change of Z| at the data that it took
  int order = 0;                   ///< poles
  /// Of |Zm - Z| / |Z|; of the modulus for magnitude-only data.
  double rms_error_percent = 0;
  double largest_error_percent = 0;
  double largest_error_hz = 0;
  double phase_error_deg = 0;  ///< rms, of the computed minimum phase for magnitude-only data
};

/// Vector fitting (vector_fitting.h) weighted with 1/|Z|, then passivity tested and enforced at all
/// frequencies. Without an order it grows by two poles and takes the one with the lowest Bayesian
/// information criterion [Schwarz1978]. A magnitude-only
/// curve gets its minimum phase (minimum_phase.h), then a few times the phase of the model fitted
/// so far, which a rational function can have with those magnitudes. Throws InputError for fewer
/// than twice as many points as poles (at least 8), and as minimum_phase().
RationalFit fit_rational_model(const ImpedanceCurve& curve, const RationalFitOptions& options = {});

}  // namespace ohmtilt
