#include <ohmtilt/base/orthogonal.h>
#include <ohmtilt/base/partial_fractions.h>
#include <ohmtilt/base/spectrum.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace ohmtilt {
namespace {

using Eigen::Index;
using Eigen::MatrixXcd;
using Eigen::MatrixXd;
using Eigen::VectorXd;
constexpr Complex j(0, 1);

/// One column a real coefficient: 1/(x-p), or for a pair the sums that its Re and Im residue weigh.
void put_residue_columns(const ComplexArray& x, const Poles& poles, Eigen::Ref<MatrixXcd> columns) {
  Index at = 0;
  for (const Complex pole : poles) {
    const ComplexArray term = (x - pole).inverse();
    if (pole.imag() == 0) {
      columns.col(at++) = term;
      continue;
    }
    const ComplexArray mirror = (x - std::conj(pole)).inverse();
    columns.col(at++) = term + mirror;
    columns.col(at++) = j * (term - mirror);
  }
}

MatrixXcd columns_of(const ComplexArray& x, const Poles& poles, const FractionForm& form) {
  const Index n = residue_count(poles);
  MatrixXcd columns(x.size(), n + form.constant + form.proportional);
  put_residue_columns(x, poles, columns.leftCols(n));
  if (form.constant) columns.col(n).setOnes();
  if (form.proportional) columns.col(n + form.constant) = x;
  return columns;
}

bool are_real(const FractionSamples& samples) {
  return (samples.x.imag() == 0).all() && (samples.values.imag() == 0).all();
}

/// Weighted rows of real numbers.
MatrixXd stacked(const FractionSamples& samples, const MatrixXcd& columns) {
  const MatrixXcd weighted = samples.weight.matrix().asDiagonal() * columns;
  if (are_real(samples)) return weighted.real();
  MatrixXd result(2 * weighted.rows(), weighted.cols());
  result << weighted.real(), weighted.imag();
  return result;
}

/// Least squares with columns scaled to one; columns of nothing get a zero.
VectorXd solved(MatrixXd columns, const VectorXd& right) {
  Eigen::RowVectorXd size = columns.colwise().norm();
  for (double& value : size)
    if (!(value > 0)) value = 1;
  columns.array().rowwise() /= size.array();
  return refined_least_squares(columns, right).array() / size.transpose().array();
}

/// The state matrix of 1 + sum of residue/(x - pole) with its output held at zero, inputs and
/// outputs of equal size.
MatrixXd zero_matrix(const Poles& poles, const VectorXd& residues) {
  const Index n = residue_count(poles);
  MatrixXd a = MatrixXd::Zero(n, n);
  VectorXd in = VectorXd::Zero(n), out = VectorXd::Zero(n);
  Index i = 0;
  for (const Complex pole : poles) {
    a(i, i) = pole.real();
    if (pole.imag() == 0) {
      in[i] = std::sqrt(std::abs(residues[i]));
      out[i] = std::copysign(in[i], residues[i]);
      ++i;
      continue;
    }
    a.block<2, 2>(i, i) << pole.real(), pole.imag(), -pole.imag(), pole.real();
    const double size = std::sqrt(std::hypot(residues[i], residues[i + 1]));
    in[i] = 2 * size;
    if (size > 0) out.segment<2>(i) = residues.segment<2>(i) / size;
    i += 2;
  }
  return a - in * out.transpose();
}

}  // namespace

Index residue_count(const Poles& poles) {
  Index count = 0;
  for (const Complex pole : poles) count += pole.imag() == 0 ? 1 : 2;
  return count;
}

VectorXd fitted_fractions(const FractionSamples& samples, const Poles& poles,
                          const FractionForm& form) {
  return solved(stacked(samples, columns_of(samples.x, poles, form)),
                stacked(samples, samples.values));
}

ComplexArray fractions_at(const ComplexArray& x, const Poles& poles, const FractionForm& form,
                          const VectorXd& coefficients) {
  return columns_of(x, poles, form) * coefficients.cast<Complex>();
}

Poles relocated_poles(const FractionSamples& samples, const Poles& poles,
                      const FractionForm& form) {
  const MatrixXcd function = columns_of(samples.x, poles, form);
  const Index n = residue_count(poles);
  MatrixXcd all(function.rows(), function.cols() + n);
  all << function, (-samples.values).matrix().asDiagonal() * function.leftCols(n);
  const VectorXd found = solved(stacked(samples, all), stacked(samples, samples.values));
  Poles next;
  for (const Complex zero : eigensystem(zero_matrix(poles, found.tail(n)), false).values)
    if (zero.imag() >= 0) next.push_back(zero);
  std::sort(next.begin(), next.end(), [](Complex a, Complex b) {
    return std::pair(std::abs(a), a.imag()) < std::pair(std::abs(b), b.imag());
  });
  return next;
}

}  // namespace ohmtilt
