#include <ohmtilt/model/state_space.h>
#include <ohmtilt/model/vector_fitting.h>
#include <ohmtilt/text/error.h>

#include <Eigen/QR>
#include <algorithm>
#include <cmath>
#include <numbers>

namespace ohmtilt {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;
constexpr Complex j(0, 1);

/// Poles with Im >= 0, one a pair, in a fixed order: the basis of both stages.
using Poles = std::vector<Complex>;

struct Samples {
  ComplexArray s;  ///< rad/s
  ComplexArray values;
  Array weight;
};

Index columns_of(const Poles& poles) {
  Index n = 0;
  for (const Complex pole : poles) n += pole.imag() == 0 ? 1 : 2;
  return n;
}

/// One column a real coefficient: 1/(s-p), or for a pair the sums that its Re and Im residue weigh.
Eigen::MatrixXcd basis(const ComplexArray& s, const Poles& poles) {
  Eigen::MatrixXcd columns(s.size(), columns_of(poles));
  Index at = 0;
  for (const Complex pole : poles) {
    const ComplexArray term = (s - pole).inverse();
    if (pole.imag() == 0) {
      columns.col(at++) = term;
      continue;
    }
    const ComplexArray mirror = (s - std::conj(pole)).inverse();
    columns.col(at++) = term + mirror;
    columns.col(at++) = j * (term - mirror);
  }
  return columns;
}

MatrixXd stacked(const Eigen::MatrixXcd& columns) {
  MatrixXd result(2 * columns.rows(), columns.cols());
  result << columns.real(), columns.imag();
  return result;
}

/// Least squares with columns scaled to one; columns of nothing get a zero.
VectorXd solved(MatrixXd columns, const VectorXd& right) {
  Eigen::RowVectorXd size = columns.colwise().norm();
  for (double& value : size)
    if (!(value > 0)) value = 1;
  columns.array().rowwise() /= size.array();
  const Eigen::ColPivHouseholderQR<MatrixXd> qr(columns);
  VectorXd found = qr.solve(right);
  found += qr.solve(right - columns * found);  // one refinement
  return found.array() / size.transpose().array();
}

RationalModel with_residues(const Poles& poles, const VectorXd& coefficients, Index at) {
  RationalModel model;
  for (const Complex pole : poles) {
    if (pole.imag() == 0) {
      model.real.push_back({pole.real(), coefficients[at]});
      at += 1;
    } else {
      model.pairs.push_back({pole, {coefficients[at], coefficients[at + 1]}});
      at += 2;
    }
  }
  return model;
}

/// Columns of the fitted function: basis, then constant and slope as asked.
Eigen::MatrixXcd function_columns(const Samples& samples, const Poles& poles,
                                  const VectorFitOptions& options) {
  const Index n = columns_of(poles);
  Eigen::MatrixXcd columns(samples.s.size(), n + options.constant + options.slope);
  columns.leftCols(n) = basis(samples.s, poles);
  if (options.constant) columns.col(n).setOnes();
  if (options.slope) columns.col(n + options.constant) = samples.s;
  return samples.weight.matrix().asDiagonal() * columns;
}

VectorXd right_side(const Samples& samples) {
  const ComplexArray weighted = samples.weight * samples.values;
  VectorXd right(2 * weighted.size());
  right << weighted.real(), weighted.imag();
  return right;
}

/// First stage: the zeros of the common denominator function become the next poles.
Poles relocated(const Samples& samples, const Poles& poles, const VectorFitOptions& options) {
  const Eigen::MatrixXcd function = function_columns(samples, poles, options);
  const Index n = columns_of(poles);
  Eigen::MatrixXcd all(function.rows(), function.cols() + n);
  all.leftCols(function.cols()) = function;
  all.rightCols(n) =
      (-samples.weight * samples.values).matrix().asDiagonal() * basis(samples.s, poles);
  const VectorXd coefficients = solved(stacked(all), right_side(samples));
  RationalModel denominator = with_residues(poles, coefficients, function.cols());
  denominator.constant = 1;
  Poles next;
  for (const Complex zero : transmission_zeros(state_space(denominator)))
    if (zero.imag() >= 0) next.emplace_back(-std::abs(zero.real()), zero.imag());
  std::sort(next.begin(), next.end(), [](Complex x, Complex y) {
    return std::pair(std::abs(x), x.imag()) < std::pair(std::abs(y), y.imag());
  });
  return next;
}

/// Second stage: residues for known poles.
RationalModel identified(const Samples& samples, const Poles& poles,
                         const VectorFitOptions& options) {
  const VectorXd found =
      solved(stacked(function_columns(samples, poles, options)), right_side(samples));
  RationalModel model = with_residues(poles, found, 0);
  const Index n = columns_of(poles);
  if (options.constant) model.constant = found[n];
  if (options.slope) model.slope = found[n + options.constant];
  return model;
}

double largest_move(const Poles& from, const Poles& to) {
  if (from.size() != to.size()) return 1;
  double largest = 0;
  for (std::size_t i = 0; i < to.size(); ++i)
    largest = std::max(largest, std::abs(to[i] - from[i]) / std::abs(to[i]));
  return largest;
}

Poles starting_poles(const Array& hz, const VectorFitOptions& options) {
  if (!options.starting_poles.empty()) return options.starting_poles;
  Poles poles;
  const double low = 2 * std::numbers::pi * hz.minCoeff();
  const double high = 2 * std::numbers::pi * hz.maxCoeff();
  if (options.order % 2 == 1) poles.emplace_back(-std::sqrt(low * high), 0);
  const int pairs = options.order / 2;
  for (int i = 0; i < pairs; ++i) {
    const double w = low * std::pow(high / low, pairs > 1 ? double(i) / (pairs - 1) : 0.5);
    poles.emplace_back(-w / 100, w);
  }
  return poles;
}

void check(const Array& hz, const ComplexArray& samples, const Poles& poles,
           const VectorFitOptions& options) {
  if (hz.size() != samples.size())
    throw InputError("there are " + std::to_string(samples.size()) + " samples for " +
                         std::to_string(hz.size()) + " frequencies",
                     "give one a frequency");
  const Index unknown = 2 * columns_of(poles) + options.constant + options.slope;
  if (poles.empty() || options.iterations < 1 || unknown > 2 * hz.size())
    throw InputError(std::to_string(columns_of(poles)) + " poles cannot be fitted to " +
                         std::to_string(hz.size()) + " samples",
                     "ask for at least one pole and fewer than the samples");
  for (const Complex pole : poles)
    if (!(pole.real() < 0) || pole.imag() < 0)
      throw InputError("a starting pole is not stable", "give Re < 0 and, of a pair, Im > 0");
}

}  // namespace

std::string VectorFit::why() const {
  switch (stop) {
    case Stop::not_run:
      return "not run";
    case Stop::poles_settled:
      return "the poles no longer move";
    case Stop::iterations_used:
      return "all iterations are used";
  }
  return {};
}

VectorFit vector_fit(const Array& hz, const ComplexArray& values, const VectorFitOptions& options) {
  Poles current = starting_poles(hz, options);
  check(hz, values, current, options);
  Samples samples{j * (2 * std::numbers::pi * hz).cast<Complex>(), values, Array::Ones(hz.size())};
  if (options.relative) samples.weight = values.abs().inverse();
  VectorFit fit;
  fit.stop = VectorFit::Stop::iterations_used;
  while (fit.iterations < options.iterations) {
    const Poles next = relocated(samples, current, options);
    ++fit.iterations;
    const double moved = largest_move(current, next);
    current = next;
    if (moved > options.settled) continue;
    fit.stop = VectorFit::Stop::poles_settled;
    break;
  }
  fit.model = identified(samples, current, options);
  const Array error = (evaluate(fit.model, hz) - values).abs();
  fit.rms = std::sqrt(error.square().mean());
  fit.largest = error.maxCoeff();
  return fit;
}

}  // namespace ohmtilt
