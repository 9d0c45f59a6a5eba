#pragma once
// Can an impedance curve belong to a linear, causal, stable one-port?
#include <ohmtilt/curve/impedance_curve.h>
#include <ohmtilt/curve/kramers_kronig.h>

namespace ohmtilt {

struct CausalityOptions {
  ImpedancePart part = ImpedancePart::complex;  ///< what is fitted; the other part is predicted
  double limit = 0.85;                          ///< of mu, of the linear test that stands beside it
  int elements = 0;  ///< poles of the fit, when positive; else as many as the data need
};

struct Causality {
  enum class Verdict { consistent, doubtful, inconsistent };
  int elements = 0;       ///< poles of the fit
  double mu = 1;          ///< of the linear test with first-order elements
  int mu_elements = 0;    ///< how many of those it has
  ComplexArray residual;  ///< (Z - fit)/|Z|
  double largest_residual_percent = 0;
  double rms_residual_percent = 0;
  Array phase_difference_deg;           ///< measured phase less the minimum phase of |Z|
  double phase_difference_rms_deg = 0;  ///< over the inner two thirds of ln f
  /// The same of what lies beyond four standard uncertainties of the phase from the magnitudes.
  double phase_unexplained_rms_deg = 0;
  Verdict verdict = Verdict::inconsistent;
};

/// "consistent", "doubtful", "inconsistent".
const char* to_string(Causality::Verdict verdict);

/// The Kramers-Kronig test for curves with resonances: stable complex pole pairs (vector_fitting.h)
/// in place of first-order elements, then least squares of the asked part alone; and the measured
/// phase against the Kramers-Kronig integral of ln|Z|, as well as the magnitudes tell it.
/// Consistent: residuals below 1 % of |Z| rms (or twice the noise; from 24 points an octave on) and
/// phases within 3 degrees of what is expected; inconsistent: above 3 % (six times the noise) or
/// beyond 10 degrees. (Common practice, no source, except the 1 %.) curve.has_phase() must hold.
Causality causality(const ImpedanceCurve& curve, const CausalityOptions& options = {});

}  // namespace ohmtilt
