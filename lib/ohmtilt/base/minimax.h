#pragma once
// The smallest largest value: minima of sums of maxima of smooth functions, within bounds.
#include <functional>
#include <vector>

#include <ohmtilt/base/least_squares.h>

namespace ohmtilt {

/// Smooth functions u(x) at one point: the largest of them counts. Rows of gradient are functions,
/// columns parameters.
struct Maximum {
  Eigen::VectorXd value;
  Eigen::MatrixXd gradient;
};

/// Constant plus the sum of several maxima.
struct SumOfMaxima {
  double constant = 0;
  std::vector<Maximum> maxima;
};

/// At one point: what is minimised, and what shall not exceed 0.
struct MinimaxModel {
  SumOfMaxima objective;
  std::vector<SumOfMaxima> limits;
};

struct MinimaxSteps {
  int steps = 30;  ///< most, for each sharpness
  /// Each maximum is at first ln(sum exp(s u))/s, never below it and above it by ln(rows)/s at
  /// most.
  std::vector<double> sharpness = {4, 20, 100, 500, 2500};
  double first_radius = 0.7;  ///< the largest step of a parameter at first
  double weight = 30;         ///< of a limit that is exceeded by 1 [1/unit]
};

/// A local minimum near x by steps on the linearised functions within a trust region, as in
/// [Madsen1975], its inner problem smoothed and solved by Newton steps. Every step costs one call
/// of at; at may return an empty objective where there is no value. Starts at x clamped to the
/// bounds; deterministic.
Eigen::VectorXd minimax(const std::function<MinimaxModel(const Eigen::VectorXd&)>& at,
                        const Eigen::VectorXd& x, const Bounds& bounds,
                        const MinimaxSteps& how = {});

}  // namespace ohmtilt
