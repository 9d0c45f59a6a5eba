#include <ohmtilt/base/trust_region.h>

#include <unsupported/Eigen/NonLinearOptimization>

namespace ohmtilt {
namespace {

/// What Eigen's Levenberg-Marquardt asks for.
struct AskedByEigen {
  const ResidualFunction& function;
  int inputs() const { return function.parameters(); }
  int values() const { return function.residuals(); }
  int operator()(const Eigen::VectorXd& x, Eigen::VectorXd& r) const {
    function.value(x, r);
    return 0;
  }
  int df(const Eigen::VectorXd& x, Eigen::MatrixXd& j) const {
    function.jacobian(x, j);
    return 0;
  }
};

}  // namespace

Eigen::VectorXd least_residuals(const ResidualFunction& function, const Eigen::VectorXd& start,
                                int evaluations, double tolerance) {
  AskedByEigen asked{function};
  Eigen::LevenbergMarquardt<AskedByEigen> search(asked);
  search.parameters.maxfev = evaluations;
  search.parameters.ftol = search.parameters.xtol = tolerance;
  Eigen::VectorXd x = start;
  search.minimize(x);
  return x;
}

}  // namespace ohmtilt
