#pragma once
// The linear Kramers-Kronig test of impedance data.
#include <ohmtilt/base/array.h>

namespace ohmtilt {

/// What of the impedance is fitted; the other part is then predicted.
enum class ImpedancePart { complex, real, imaginary };

struct LinearTestOptions {
  ImpedancePart part = ImpedancePart::complex;
  double limit = 0.85;  ///< elements are added until mu falls below it; 0 to 1
  int elements = 0;     ///< this many instead, when positive
  int most_elements = 50;
  bool capacitance = false;  ///< add a series capacitance to the resistance and inductance
};

struct LinearTest {
  int elements = 0;       ///< M
  double mu = 1;          ///< near 1 underfit, near 0 overfit
  ComplexArray fit;       ///< ohm
  ComplexArray residual;  ///< (Z - fit) / |Z|: real and imaginary part
};

/// count time constants in seconds, spaced evenly in their logarithm from 1/max(2 pi hz) to
/// 1/min(2 pi hz); the first alone for count = 1.
Array time_constants(const Array& hz, int count);

/// 1 - sum of |negative| / sum of positive. [Schoenleber2014]
double mu_of(const Array& resistances);

/// Fits R0 + sum R_k/(1 + j w tau_k) + j w L (+ 1/(j w C)), which obeys the Kramers-Kronig
/// relations by construction, to impedance data in ohm, weighted with 1/|Z|, by linear least
/// squares; what is left over is what data of a linear, causal and stable one-port cannot have.
/// [Boukamp1995], [Schoenleber2014]. First-order elements cannot follow resonances: for earphones
/// use analysis/causality.h. Throws InputError for lengths that differ, fewer than 3 points, or
/// options outside the ranges above.
LinearTest linear_test(const Array& hz, const ComplexArray& z,
                       const LinearTestOptions& options = {});

}  // namespace ohmtilt
