#pragma once
// Sums of partial fractions with real coefficients, fitted to samples: what every vector fit does.
#include <ohmtilt/base/array.h>

#include <Eigen/Core>
#include <vector>

namespace ohmtilt {

/// Simple poles: real ones, and of each complex pair the member with Im > 0.
using Poles = std::vector<Complex>;

/// Number of real coefficients that the poles' residues have: one each, two of a pair.
Eigen::Index residue_count(const Poles& poles);

/// f(x) = sum of residue/(x - pole), plus a constant and a term proportional to x as asked.
struct FractionForm {
  bool constant = true;
  bool proportional = false;
};

/// What f is fitted to. Where all x and values are real, imaginary parts are left out.
struct FractionSamples {
  ComplexArray x, values;
  Array weight;  ///< of the error at each
};

/// f's real coefficients in the least squares of the weighted error: residues in the poles' order
/// (of a pair the real, then the imaginary part), the constant, the proportional term.
Eigen::VectorXd fitted_fractions(const FractionSamples& samples, const Poles& poles,
                                 const FractionForm& form);

/// Of f for such coefficients at x.
ComplexArray fractions_at(const ComplexArray& x, const Poles& poles, const FractionForm& form,
                          const Eigen::VectorXd& coefficients);

/// One relocation of the poles ([Gustavsen1999], with real coefficients): the zeros of 1 + sum of
/// residue/(x - pole), the function by which the samples are multiplied so that f fits them best.
/// They may lie anywhere; by rising |pole|.
Poles relocated_poles(const FractionSamples& samples, const Poles& poles, const FractionForm& form);

}  // namespace ohmtilt
