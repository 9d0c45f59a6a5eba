#include <ohmtilt/base/products.h>
#include <ohmtilt/measure/uncertainty_propagation.h>
#include <ohmtilt/text/error.h>
#include <cmath>

namespace ohmtilt {

double Estimate::correlation(Eigen::Index i, Eigen::Index j) const {
  const double scale = std::sqrt(covariance(i, i) * covariance(j, j));
  return scale > 0 ? covariance(i, j) / scale : 0;
}

Estimate estimate(const Eigen::VectorXd& value, const Eigen::VectorXd& uncertainty,
                  const Eigen::MatrixXd& correlation) {
  const Eigen::Index n = value.size();
  if (uncertainty.size() != n || correlation.rows() != n || correlation.cols() != n)
    throw InputError("values, uncertainties and correlations are not equally many",
                     "give one uncertainty a value and a square correlation matrix");
  if (!uncertainty.allFinite() || (uncertainty.array() < 0).any())
    throw InputError("an uncertainty is negative or not finite", "give zero or more");
  return {value, uncertainty.asDiagonal() * correlation * uncertainty.asDiagonal()};
}

Estimate estimate(const Eigen::VectorXd& value, const Eigen::VectorXd& uncertainty) {
  return estimate(value, uncertainty, Eigen::MatrixXd::Identity(value.size(), value.size()));
}

Estimate propagated(const Estimate& input,
                    const std::function<Eigen::VectorXd(const Eigen::VectorXd&)>& model) {
  const Eigen::VectorXd output = model(input.value);
  const Array u = input.uncertainty();
  const Eigen::Index inputs = input.value.size();
  Eigen::MatrixXd effects = Eigen::MatrixXd::Zero(output.size(), inputs);
  Eigen::MatrixXd correlation = Eigen::MatrixXd::Identity(inputs, inputs);
  for (Eigen::Index i = 0; i < inputs; ++i) {
    for (Eigen::Index j = 0; j < inputs; ++j)
      if (i != j) correlation(i, j) = input.correlation(i, j);
    if (!(u[i] > 0)) continue;
    Eigen::VectorXd above = input.value, below = input.value;
    above[i] += u[i];
    below[i] -= u[i];
    effects.col(i) = (model(above) - model(below)) / 2;
  }
  return {output, product_transposed(product(effects, correlation), effects)};
}

double uncertainty_of_limit(double limit) { return limit / std::sqrt(3.0); }

}  // namespace ohmtilt
