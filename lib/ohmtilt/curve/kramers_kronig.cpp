#include <ohmtilt/base/constants.h>
#include <ohmtilt/base/spectrum.h>
#include <ohmtilt/curve/kramers_kronig.h>
#include <ohmtilt/text/error.h>

#include <cmath>
#include <string>

namespace ohmtilt {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

/// Columns 1, 1/(1 + j w tau_k), [1/(j w)], j w: one a coefficient.
Eigen::ArrayXXcd columns(const Array& w, const Array& tau, bool capacitance) {
  const Index m = tau.size();
  const ComplexArray s = Complex(0, 1) * w.cast<Complex>();
  Eigen::ArrayXXcd result(w.size(), m + 2 + capacitance);
  result.col(0).setOnes();
  for (Index k = 0; k < m; ++k) result.col(k + 1) = (1.0 + s * tau[k]).inverse();
  if (capacitance) result.col(m + 1) = s.inverse();
  result.col(m + 1 + capacitance) = s;
  return result;
}

/// Least squares of smallest norm; directions below 1e-15 of the largest count as nothing, as in
/// the published runs.
VectorXd smallest_solution(const MatrixXd& matrix, const VectorXd& right) {
  return singular_least_squares(matrix, right, 1e-15);
}

struct Problem {
  Eigen::ArrayXXcd columns;  ///< over |Z|
  ComplexArray right;        ///< Z over |Z|
  bool capacitance = false;
};

VectorXd complex_solution(const Problem& p) {
  const Index points = p.right.size();
  MatrixXd matrix(2 * points, p.columns.cols());
  matrix << p.columns.real().matrix(), p.columns.imag().matrix();
  VectorXd right(2 * points);
  right << p.right.real().matrix(), p.right.imag().matrix();
  return smallest_solution(matrix, right);
}

/// The real part knows no reactance in series: those come from what is left of the imaginary one.
VectorXd real_solution(const Problem& p) {
  const Index reactive = 1 + p.capacitance, inner = p.columns.cols() - reactive;
  VectorXd x = VectorXd::Zero(p.columns.cols());
  x.head(inner) =
      smallest_solution(p.columns.leftCols(inner).real().matrix(), p.right.real().matrix());
  const VectorXd left = p.right.imag().matrix() - p.columns.imag().matrix() * x;
  x.tail(reactive) = smallest_solution(p.columns.rightCols(reactive).imag().matrix(), left);
  return x;
}

/// The imaginary part knows no resistance in series: that comes from the rest of the real one.
VectorXd imaginary_solution(const Problem& p) {
  const Index rest = p.columns.cols() - 1;
  VectorXd x = VectorXd::Zero(p.columns.cols());
  x.tail(rest) =
      smallest_solution(p.columns.rightCols(rest).imag().matrix(), p.right.imag().matrix());
  const Array left = p.right.real() - (p.columns.real().matrix() * x).array();
  const Array ones = p.columns.col(0).real();
  x[0] = (ones * left).sum() / ones.square().sum();
  return x;
}

VectorXd solution(const Problem& p, ImpedancePart part) {
  switch (part) {
    case ImpedancePart::complex:
      return complex_solution(p);
    case ImpedancePart::real:
      return real_solution(p);
    case ImpedancePart::imaginary:
      return imaginary_solution(p);
  }
  return {};
}

LinearTest tested(const Array& hz, const ComplexArray& z, int elements,
                  const LinearTestOptions& options) {
  const auto basis = columns(two_pi * hz, time_constants(hz, elements), options.capacitance);
  const Array size = z.abs();
  const Problem problem{basis.colwise() / size.cast<Complex>(), z / size, options.capacitance};
  const VectorXd x = solution(problem, options.part);
  LinearTest result;
  result.elements = elements;
  result.mu = mu_of(x.segment(1, elements).array());
  result.fit = (basis.matrix() * x.cast<Complex>()).array();
  result.residual = (z - result.fit) / size;
  return result;
}

void check(const Array& hz, const ComplexArray& z, const LinearTestOptions& options) {
  if (hz.size() != z.size() || hz.size() < 3)
    throw InputError("the causality test has " + std::to_string(z.size()) + " impedances at " +
                         std::to_string(hz.size()) + " frequencies",
                     "give one a frequency, at least three");
  if (!(options.limit >= 0 && options.limit <= 1) || options.elements < 0 ||
      options.most_elements < 1)
    throw InputError("the causality test's options are out of range",
                     "give a limit from 0 to 1 and at least one element");
}

}  // namespace

Array time_constants(const Array& hz, int count) {
  const double shortest = 1 / (two_pi * hz.maxCoeff()), longest = 1 / (two_pi * hz.minCoeff());
  Array tau(count);
  for (int k = 0; k < count; ++k)
    tau[k] =
        count == 1 ? shortest : shortest * std::pow(longest / shortest, double(k) / (count - 1));
  return tau;
}

double mu_of(const Array& resistances) {
  const double negative = -resistances.min(0).sum(), positive = resistances.max(0).sum();
  return positive > 0 ? 1 - negative / positive : 0;
}

LinearTest linear_test(const Array& hz, const ComplexArray& z, const LinearTestOptions& options) {
  check(hz, z, options);
  if (options.elements > 0) return tested(hz, z, options.elements, options);
  LinearTest result;
  for (int elements = 1; elements <= options.most_elements; ++elements) {
    result = tested(hz, z, elements, options);
    if (result.mu <= options.limit) break;
  }
  return result;
}

}  // namespace ohmtilt
