#pragma once
#include <Eigen/Core>
#include <functional>

#include <ohmtilt/base/array.h>

namespace ohmtilt {

/// Several quantities with their joint uncertainty: value[i] in its own unit, covariance(i, j) in
/// the product of both units.
struct Estimate {
  Eigen::VectorXd value;
  Eigen::MatrixXd covariance;

  /// Standard uncertainty of each quantity.
  Array uncertainty() const { return covariance.diagonal().array().max(0).sqrt(); }
  /// Between -1 and 1; 0 where one of the two is exact.
  double correlation(Eigen::Index i, Eigen::Index j) const;
};

/// From values, standard uncertainties and a correlation matrix (symmetric, ones on its diagonal).
/// Throws InputError when sizes differ or an uncertainty is negative or not finite.
Estimate estimate(const Eigen::VectorXd& value, const Eigen::VectorXd& uncertainty,
                  const Eigen::MatrixXd& correlation);
/// The same without correlation.
Estimate estimate(const Eigen::VectorXd& value, const Eigen::VectorXd& uncertainty);

/// output = model(input) with its covariance by linear propagation, J C J^T (GUM 5.2.2 and its
/// Supplement 2), each column of J times u being taken as half the difference of the model at
/// x + u and x - u (GUM 5.1.3, note 2).
Estimate propagated(const Estimate& input,
                    const std::function<Eigen::VectorXd(const Eigen::VectorXd&)>& model);

/// The standard uncertainty of a quantity that is known to lie within +-limit and equally likely
/// anywhere there (rectangular distribution, GUM 4.3.7): limit / sqrt 3.
double uncertainty_of_limit(double limit);

}  // namespace ohmtilt
