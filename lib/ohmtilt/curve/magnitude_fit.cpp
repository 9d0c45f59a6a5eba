#include <ohmtilt/curve/magnitude_fit.h>

#include <Eigen/Dense>
#include <cmath>

namespace ohmtilt {
namespace {

constexpr int relocations = 6;

struct Poles {
  std::vector<double> real;
  std::vector<Complex> pairs;
  Eigen::Index order() const { return static_cast<Eigen::Index>(real.size() + 2 * pairs.size()); }
};

/// Damped pairs spread over the range, and for an odd order one real pole above it.
Poles starting_poles(double low, double high, int order) {
  Poles poles;
  const int pairs = order / 2;
  for (int i = 1; i <= pairs; ++i)
    poles.pairs.push_back(low * std::pow(high / low, double(i) / (pairs + 1)) * Complex(-0.3, 0.9));
  if (order % 2 == 1) poles.real.push_back(-high);
  return poles;
}

/// One column a real pole, two a pair (for the real and imaginary part of its residue).
Eigen::MatrixXd partial_fractions(const Array& x, const Poles& poles) {
  Eigen::MatrixXd columns(x.size(), poles.order());
  Eigen::Index column = 0;
  for (const double pole : poles.real) columns.col(column++) = (x - pole).inverse();
  for (const Complex& pole : poles.pairs) {
    const Array square = (x - pole.real()).square() + pole.imag() * pole.imag();
    columns.col(column++) = 2 * (x - pole.real()) / square;
    columns.col(column++) = -2 * pole.imag() / square;
  }
  return columns;
}

/// Partial fractions, constant, and the linear term if asked for.
Eigen::MatrixXd model_columns(const Array& x, const Poles& poles, bool linear) {
  const Eigen::Index order = poles.order();
  Eigen::MatrixXd columns(x.size(), order + (linear ? 2 : 1));
  columns.leftCols(order) = partial_fractions(x, poles);
  columns.col(order).setOnes();
  if (linear) columns.col(order + 1) = x.matrix();
  return columns;
}

/// Least squares with columns scaled to one length first: their sizes differ by many decades.
Eigen::VectorXd solved(Eigen::MatrixXd columns, const Eigen::VectorXd& target) {
  const Eigen::VectorXd lengths = columns.colwise().norm().cwiseMax(1e-300);
  columns.array().rowwise() /= lengths.transpose().array();
  return columns.colPivHouseholderQr().solve(target).cwiseQuotient(lengths);
}

/// The zeros of 1 + sum of residue/(x - pole), which are the next poles. A zero on the positive
/// real axis would be a pole at a real frequency; it is mirrored.
Poles zeros(const Poles& poles, const Eigen::VectorXd& residues) {
  const Eigen::Index order = poles.order();
  if (order == 0) return poles;
  Eigen::MatrixXd matrix = Eigen::MatrixXd::Zero(order, order);
  Eigen::VectorXd input = Eigen::VectorXd::Zero(order);
  Eigen::Index i = 0;
  for (const double pole : poles.real) {
    matrix(i, i) = pole;
    input[i++] = 1;
  }
  for (const Complex& pole : poles.pairs) {
    matrix.block<2, 2>(i, i) << pole.real(), pole.imag(), -pole.imag(), pole.real();
    input[i] = 2;
    i += 2;
  }
  matrix -= input * residues.transpose();
  Poles moved;
  for (const Complex& value : matrix.eigenvalues()) {
    if (value.imag() == 0) moved.real.push_back(-std::abs(value.real()));
    if (value.imag() > 0) moved.pairs.push_back(value);
  }
  return moved;
}

Poles relocated(const Array& x, const Array& values, const Poles& poles, bool linear) {
  const Eigen::MatrixXd model = model_columns(x, poles, linear).array().colwise() / values;
  const Eigen::Index order = poles.order();
  Eigen::MatrixXd columns(x.size(), model.cols() + order);
  columns << model, -partial_fractions(x, poles);
  return zeros(poles, solved(columns, Eigen::VectorXd::Ones(x.size())).tail(order));
}

}  // namespace

MagnitudeFit::MagnitudeFit(const Array& x, const Array& values, int order, bool linear)
    : linear_(linear) {
  Poles poles = starting_poles(x.minCoeff(), x.maxCoeff(), order);
  for (int i = 0; i < relocations; ++i) poles = relocated(x, values, poles, linear);
  const Eigen::MatrixXd columns = model_columns(x, poles, linear).array().colwise() / values;
  const Eigen::VectorXd target = Eigen::VectorXd::Ones(x.size());
  const Eigen::VectorXd solution = solved(columns, target);
  residual_ = (columns * solution - target).norm() / std::sqrt(double(x.size()));
  coefficients_ = solution;
  real_poles_ = std::move(poles.real);
  pole_pairs_ = std::move(poles.pairs);
}

Array MagnitudeFit::at(const Array& x) const {
  return (model_columns(x, {real_poles_, pole_pairs_}, linear_) * coefficients_.matrix()).array();
}

int MagnitudeFit::order() const {
  return static_cast<int>(real_poles_.size() + 2 * pole_pairs_.size());
}

}  // namespace ohmtilt
