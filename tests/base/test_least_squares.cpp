// Damped Gauss-Newton steps on measured data and at bounds.
#include <ohmtilt/base/array.h>
#include <ohmtilt/base/least_squares.h>

#include <array>
#include <cmath>
#include <numbers>

#include "tests/support.h"

namespace ohmtilt::test {
namespace {

using Eigen::VectorXd;

/// R in series with R parallel C, fitted to complex impedances; x are the logarithms of the values.
class DummyCell final : public LeastSquares {
 public:
  explicit DummyCell(const std::string& file) {
    for (const auto& row : csv_rows(data(file)))
      rows_.push_back(
          {std::stod(row.at("f_Hz")), std::stod(row.at("Z_re")), std::stod(row.at("Z_im"))});
  }
  double cost(const VectorXd& x) override {
    double sum = 0;
    for (const auto& row : rows_) sum += std::norm(impedance(x, row[0]) - Complex(row[1], row[2]));
    return sum;
  }
  NormalEquations normal_equations(const VectorXd& x) override {
    NormalEquations equations{Eigen::Matrix3d::Zero(), Eigen::Vector3d::Zero()};
    for (const auto& row : rows_) {
      const Complex error = impedance(x, row[0]) - Complex(row[1], row[2]);
      const Eigen::Vector3cd by = derivatives(x, row[0]);
      equations.square += (by * by.adjoint()).real();
      equations.gradient += (by.conjugate() * error).real();
    }
    return equations;
  }

 private:
  static Complex turn(const VectorXd& x, double hz) {
    return {1, 2 * std::numbers::pi * hz * std::exp(x[1] + x[2])};
  }
  static Complex impedance(const VectorXd& x, double hz) {
    return std::exp(x[0]) + std::exp(x[1]) / turn(x, hz);
  }
  static Eigen::Vector3cd derivatives(const VectorXd& x, double hz) {
    const Complex one = turn(x, hz), cell = std::exp(x[1]) / one;
    return {std::exp(x[0]), cell / one, -cell * (one - 1.0) / one};
  }
  std::vector<std::array<double, 3>> rows_;
};

Bounds wide() { return {VectorXd::Constant(3, -40), VectorXd::Constant(3, 40)}; }

VectorXd logarithms(double series, double parallel, double farad) {
  return Eigen::Vector3d(std::log(series), std::log(parallel), std::log(farad));
}

// Measured R-RC dummy cells (the files name their source), refitted with SciPy (least squares over
// the logarithms of the values); the published fits lie within 0.3 %.
void expect_dummy_cell(const std::string& file, double series, double parallel, double farad) {
  DummyCell cell(file);
  DampedSteps how;
  how.least_gain = 1e-14;
  const Minimum found =
      minimised(cell, logarithms(series * 1.5, parallel / 2, farad * 3), wide(), how);
  const VectorXd error = found.x - logarithms(series, parallel, farad);
  EXPECT_LT(error.cwiseAbs().maxCoeff(), 2e-4) << file;
}

TEST(LeastSquares, MeasuredDummyCells) {
  expect_dummy_cell("dummy_cell_circuit1_eis_1.csv", 29.1411, 46.6526, 10.4282e-6);
  expect_dummy_cell("dummy_cell_circuit2_eis_1.csv", 150.274, 502.481, 31.1307e-9);
  expect_dummy_cell("dummy_cell_circuit3_eis_1.csv", 1505.73, 4631.73, 20.1832e-9);
}

// A linear problem with a bound: with x0 <= 20 ohm the best of the rest is where its gradient is
// zero, and the bound is kept.
TEST(LeastSquares, StaysWithinItsBounds) {
  DummyCell cell("dummy_cell_circuit1_eis_1.csv");
  Bounds bounds = wide();
  bounds.high[0] = std::log(20.0);
  DampedSteps how;
  how.least_gain = 1e-14;
  const Minimum found = minimised(cell, logarithms(60, 20, 1e-6), bounds, how);
  EXPECT_EQ(found.x[0], bounds.high[0]);
  EXPECT_EQ(found.cost, cell.cost(found.x));
  const NormalEquations at = cell.normal_equations(found.x);
  EXPECT_LT(at.gradient[0], 0);  // it would leave
  EXPECT_LT(std::abs(at.gradient[1]) / std::sqrt(at.square(1, 1) * found.cost), 1e-5);
  EXPECT_LT(std::abs(at.gradient[2]) / std::sqrt(at.square(2, 2) * found.cost), 1e-5);
}

}  // namespace
}  // namespace ohmtilt::test
