// The smallest largest value against approximations that are known in closed form.
#include <ohmtilt/base/minimax.h>

#include <cmath>

#include "tests/support.h"

namespace ohmtilt::test {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

Bounds within(Eigen::Index size, double reach) {
  return {VectorXd::Constant(size, -reach), VectorXd::Constant(size, reach)};
}

/// |u| as the largest of u and -u.
Maximum magnitudes(const VectorXd& u, const MatrixXd& gradient) {
  Maximum both{VectorXd(2 * u.size()), MatrixXd(2 * u.size(), gradient.cols())};
  both.value << u, -u;
  both.gradient << gradient, -gradient;
  return both;
}

// Chebyshev: of all x^3 + a x^2 + b x + c, T3/4 = x^3 - 3/4 x is the smallest on [-1, 1], with 1/4
// (any textbook on approximation).
TEST(Minimax, FindsChebyshevsPolynomial) {
  const VectorXd t = VectorXd::LinSpaced(401, -1, 1);
  const auto at = [&](const VectorXd& x) {
    MatrixXd slope(t.size(), 3);
    slope.col(0) = t.array().square();
    slope.col(1) = t;
    slope.col(2).setOnes();
    const VectorXd u = VectorXd(t.array().cube()) + slope * x;
    return MinimaxModel{{0, {magnitudes(u, slope)}}, {}};
  };
  const VectorXd x = minimax(at, VectorXd::Constant(3, 1.7), within(3, 5));
  EXPECT_NEAR(x[1], -0.75, 0.01);
  EXPECT_NEAR(at(x).objective.maxima[0].value.maxCoeff(), 0.25, 1e-3);
}

/// Rosenbrock's valley as a largest value: max |10 (y - x^2)|, |1 - x|, with 0 at (1, 1).
MinimaxModel valley(const VectorXd& x) {
  VectorXd u(2);
  u << 10 * (x[1] - x[0] * x[0]), 1 - x[0];
  MatrixXd slope(2, 2);
  slope << -20 * x[0], 10, -1, 0;
  return {{0, {magnitudes(u, slope)}}, {}};
}

TEST(Minimax, GoesDownACurvedValley) {
  VectorXd start(2);
  start << -1.2, 1;
  const VectorXd x = minimax(valley, start, within(2, 5));
  EXPECT_NEAR(x[0], 1, 2e-3);
  EXPECT_NEAR(x[1], 1, 4e-3);
}

TEST(Minimax, KeepsALimitAndTheBounds) {
  // The valley with x <= 0.5: 1 - x is then the largest, 0.5.
  const auto at = [](const VectorXd& x) {
    MinimaxModel model = valley(x);
    VectorXd over(1);
    over << x[0];
    MatrixXd slope(1, 2);
    slope << 1, 0;
    model.limits.push_back({-0.5, {{over, slope}}});
    return model;
  };
  VectorXd start(2);
  start << -1.2, 1;
  EXPECT_NEAR(minimax(at, start, within(2, 5))[0], 0.5, 2e-3);
  EXPECT_NEAR(minimax(valley, start, within(2, 0.5))[0], 0.5, 1e-12);
}

TEST(Minimax, IsTheSameEveryTime) {
  VectorXd start(2);
  start << -1.2, 1;
  const VectorXd once = minimax(valley, start, within(2, 5));
  EXPECT_EQ((once - minimax(valley, start, within(2, 5))).norm(), 0);
}

}  // namespace
}  // namespace ohmtilt::test
