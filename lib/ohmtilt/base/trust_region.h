#pragma once
// Nonlinear least squares on the residuals themselves, as a plain function. Eigen's search is a
// template that costs a file ten seconds; here it is compiled once, beside the decomposition that
// it needs, and every result keeps its bits.
#include <Eigen/Core>

namespace ohmtilt {

/// Residuals r of parameters x, and their derivatives.
class ResidualFunction {
 public:
  virtual ~ResidualFunction() = default;
  virtual int parameters() const = 0;
  virtual int residuals() const = 0;
  /// Into r, which has one row a residual.
  virtual void value(const Eigen::VectorXd& x, Eigen::VectorXd& r) const = 0;
  /// Into j: a row a residual, a column a parameter.
  virtual void jacobian(const Eigen::VectorXd& x, Eigen::MatrixXd& j) const = 0;
};

/// Where the sum of the squared residuals is least near start, by Levenberg and Marquardt's method
/// [Marquardt1963] on the QR decomposition of the derivatives; not finite where the residuals lead
/// there. The search ends after so many evaluations, or where the sum or x changes by no more than
/// the tolerance, relative to itself.
Eigen::VectorXd least_residuals(const ResidualFunction& function, const Eigen::VectorXd& start,
                                int evaluations, double tolerance);

}  // namespace ohmtilt
