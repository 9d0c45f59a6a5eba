#include <ohmtilt/base/elimination.h>
#include <ohmtilt/base/least_squares.h>

#include <algorithm>

namespace ohmtilt {
namespace {

using Eigen::VectorXd;

VectorXd clamped(const VectorXd& x, const Bounds& bounds) {
  return x.cwiseMax(bounds.low).cwiseMin(bounds.high);
}

/// What stands at a bound and would leave it does not move, nor does what has no effect.
void hold(NormalEquations& equations, const VectorXd& x, const Bounds& bounds) {
  for (Eigen::Index i = 0; i < x.size(); ++i) {
    const double gradient = equations.gradient[i];
    const bool free = equations.square(i, i) > 0 && !(x[i] <= bounds.low[i] && gradient > 0) &&
                      !(x[i] >= bounds.high[i] && gradient < 0);
    if (free) continue;
    equations.gradient[i] = 0;
    equations.square.row(i).setZero();
    equations.square.col(i).setZero();
    equations.square(i, i) = 1;
  }
}

VectorXd damped_step(const NormalEquations& equations, double damping, double longest) {
  Eigen::MatrixXd damped = equations.square;
  const VectorXd diagonal = equations.square.diagonal();
  damped.diagonal() = diagonal * (1 + damping);
  damped.diagonal().array() += 1e-12 * diagonal.maxCoeff();
  const VectorXd step = solve_positive(damped, -equations.gradient);
  const double largest = step.cwiseAbs().maxCoeff();
  return largest > longest ? VectorXd(step * (longest / largest)) : step;
}

}  // namespace

Minimum minimised(LeastSquares& problem, const VectorXd& x, const Bounds& bounds,
                  const DampedSteps& how) {
  Minimum best{clamped(x, bounds), 0};
  best.cost = problem.cost(best.x);
  double damping = how.damping;
  for (int step = 0; step < how.steps && best.cost > how.negligible_cost; ++step) {
    NormalEquations equations = problem.normal_equations(best.x);
    if (how.hold_at_bounds) hold(equations, best.x, bounds);
    const double before = best.cost;
    for (int attempt = 0; attempt < how.attempts; ++attempt) {
      const VectorXd tried =
          clamped(best.x + damped_step(equations, damping, how.longest_step), bounds);
      const double cost = problem.cost(tried);
      if (cost < best.cost) {
        best = {tried, cost};
        damping = std::max(damping / 5, 1e-9);
        break;
      }
      damping *= 6;
    }
    if (!(before - best.cost > how.least_gain * before)) break;
  }
  return best;
}

}  // namespace ohmtilt
