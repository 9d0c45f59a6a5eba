#pragma once
// Nonlinear least squares within bounds.
#include <Eigen/Core>

#include <limits>

namespace ohmtilt {

/// Of residuals r with derivatives J by the parameters: J^T J (its lower triangle) and J^T r.
struct NormalEquations {
  Eigen::MatrixXd square;
  Eigen::VectorXd gradient;
};

/// What is minimised: the sum of squared residuals as a function of parameters x.
class LeastSquares {
 public:
  virtual ~LeastSquares() = default;
  /// The sum at x; infinite where there is none.
  virtual double cost(const Eigen::VectorXd& x) = 0;
  /// At x, which is the point that cost() was last asked for.
  virtual NormalEquations normal_equations(const Eigen::VectorXd& x) = 0;
};

/// low <= x <= high, one of each per parameter.
struct Bounds {
  Eigen::VectorXd low, high;
};

struct DampedSteps {
  int steps = 100;             ///< most
  int attempts = 8;            ///< dampings tried per step, each 6 times the last
  double least_gain = 1e-6;    ///< a step that lowers the cost by less, relative to it, is the last
  double negligible_cost = 0;  ///< no step is taken below it
  double damping = 1e-3;       ///< of the first attempt
  double longest_step = std::numeric_limits<double>::infinity();  ///< of any parameter
  bool hold_at_bounds = true;  ///< a parameter at a bound that it would leave is held there
};

struct Minimum {
  Eigen::VectorXd x;
  double cost = 0;
};

/// The nearest minimum by damped Gauss-Newton steps [Marquardt1963],
/// each clamped to the bounds. Starts at x clamped to the bounds; never ends above the cost there.
Minimum minimised(LeastSquares& problem, const Eigen::VectorXd& x, const Bounds& bounds,
                  const DampedSteps& how = {});

}  // namespace ohmtilt
