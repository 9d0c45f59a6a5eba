// The passivity half of vector_fitting.h.
#include <ohmtilt/base/constants.h>
#include <ohmtilt/base/elimination.h>
#include <ohmtilt/base/products.h>
#include <ohmtilt/model/state_space.h>
#include <ohmtilt/model/vector_fitting.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

/// Re Z(jw); the constant at infinite w.
double resistance(const RationalModel& model, double w) {
  return std::isinf(w) ? model.constant : evaluate(model, Complex(0, w)).real();
}

/// What counts as zero: rounding of the terms' sum.
double rounding(const RationalModel& model) {
  double size = std::abs(model.constant);
  for (const RealPole& term : model.real)
    if (term.pole != 0) size += std::abs(term.residue / term.pole);
  for (const PolePair& term : model.pairs) size += 2 * std::abs(term.residue / term.pole.real());
  return 1e-13 * size;
}

/// Angular frequencies at which Re Z(jw) changes sign: Re Z = d + c A (s^2 I - A^2)^-1 b.
std::vector<double> crossings(const RationalModel& model) {
  const StateSpace system = state_space(model);
  const StateSpace even{system.a * system.a, system.b, system.c * system.a, system.d};
  std::vector<double> found;
  if (even.d == 0 && !(std::abs(even.c * even.b) > 1e-14 * even.c.norm() * even.b.norm()))
    return found;
  for (const Complex square : transmission_zeros(even))
    if (square.real() < 0 && std::abs(square.imag()) <= 1e-6 * std::abs(square.real()))
      found.push_back(std::sqrt(-square.real()));
  return found;
}

/// Frequencies to look at: around every pole, over all decades, and between the crossings.
std::vector<double> places_to_look(const RationalModel& model, const std::vector<double>& edges) {
  std::vector<double> w = edges;
  double low = infinity, high = 0;
  for (const Complex pole : poles(model)) {
    const double size = std::abs(pole);
    if (size == 0) continue;
    low = std::min(low, size);
    high = std::max(high, size);
    for (int i = -20; i <= 20; ++i) {
      const double near = std::abs(pole.imag()) + pole.real() * i / 5.0;
      if (near > 0) w.push_back(near);
    }
  }
  if (high == 0) return {1.0, infinity};
  for (double at = low * 1e-3; at < high * 1e3; at *= 1.05) w.push_back(at);
  std::sort(w.begin(), w.end());
  const std::vector<double> sorted = w;
  for (std::size_t i = 1; i < sorted.size(); ++i) w.push_back(std::sqrt(sorted[i] * sorted[i - 1]));
  w.push_back(infinity);
  std::sort(w.begin(), w.end());
  return w;
}

PassivityViolation lowest_in(const std::vector<double>& w, const std::vector<double>& values,
                             std::size_t first, std::size_t last) {
  const auto lowest = std::min_element(values.begin() + first, values.begin() + last + 1);
  const std::size_t at = static_cast<std::size_t>(lowest - values.begin());
  return {{w[first] / two_pi, w[last] / two_pi}, w[at] / two_pi, *lowest};
}

/// Real coefficients of a change of Z: residues of real poles, Re and Im of pairs', the constant.
MatrixXd resistance_rows(const RationalModel& model, const VectorXd& w) {
  MatrixXd rows(w.size(), model.order() + 1);
  for (Index k = 0; k < w.size(); ++k) {
    const Complex s(0, w[k]);
    const bool far = std::isinf(w[k]);
    Index at = 0;
    for (const RealPole& term : model.real)
      rows(k, at++) = far ? 0 : (1.0 / (s - term.pole)).real();
    for (const PolePair& term : model.pairs) {
      const Complex one = 1.0 / (s - term.pole), other = 1.0 / (s - std::conj(term.pole));
      rows(k, at++) = far ? 0 : (one + other).real();
      rows(k, at++) = far ? 0 : (Complex(0, 1) * (one - other)).real();
    }
    rows(k, at) = 1;
  }
  return rows;
}

/// Gram matrix of the change's real and imaginary part over hz: what is kept small.
MatrixXd gram(const RationalModel& model, const Array& hz) {
  MatrixXd columns(2 * hz.size(), model.order() + 1);
  for (Index k = 0; k < hz.size(); ++k) {
    const Complex s(0, two_pi * hz[k]);
    Index at = 0;
    const auto put = [&](Complex value) {
      columns(2 * k, at) = value.real();
      columns(2 * k + 1, at++) = value.imag();
    };
    for (const RealPole& term : model.real) put(1.0 / (s - term.pole));
    for (const PolePair& term : model.pairs) {
      const Complex one = 1.0 / (s - term.pole), other = 1.0 / (s - std::conj(term.pole));
      put(one + other);
      put(Complex(0, 1) * (one - other));
    }
    put(1);
  }
  return transposed_product(columns, columns) / static_cast<double>(hz.size());
}

void add_change(RationalModel& model, const VectorXd& change) {
  Index at = 0;
  for (RealPole& term : model.real) term.residue += change[at++];
  for (PolePair& term : model.pairs) {
    term.residue += Complex(change[at], change[at + 1]);
    at += 2;
  }
  model.constant += change[at];
}

/// Smallest change x^T G x that gives rows x = lift, by the dual; scaled to unit diagonal first.
VectorXd smallest_change(const MatrixXd& rows, const VectorXd& lift, const MatrixXd& g) {
  const VectorXd scale = g.diagonal().array().max(1e-300).rsqrt();
  MatrixXd scaled = scale.asDiagonal() * g * scale.asDiagonal();
  scaled.diagonal().array() += 1e-9;
  const MatrixXd r = rows * scale.asDiagonal();
  const MatrixXd inverse_r = solve_symmetric(scaled, MatrixXd(r.transpose()));
  MatrixXd dual = r * inverse_r;
  dual.diagonal() *= 1 + 1e-12;
  return scale.asDiagonal() * (inverse_r * FullLu(dual).solve(lift));
}

bool lift_once(RationalModel& model, const Passivity& found, const MatrixXd& g, double margin) {
  VectorXd w(found.violations.size()), lift(found.violations.size());
  for (Index i = 0; i < w.size(); ++i) {
    const auto& violation = found.violations[static_cast<std::size_t>(i)];
    w[i] = two_pi * violation.worst_hz;
    lift[i] = -1.02 * violation.worst_ohm + margin;
  }
  const VectorXd change = smallest_change(resistance_rows(model, w), lift, g);
  if (!change.allFinite()) return false;
  add_change(model, change);
  return true;
}

double lowest_resistance(const Passivity& found) {
  double lowest = 0;
  for (const auto& violation : found.violations) lowest = std::min(lowest, violation.worst_ohm);
  return lowest;
}

}  // namespace

Passivity passivity(const RationalModel& model) {
  Passivity result;
  const auto w = places_to_look(model, crossings(model));
  std::vector<double> values(w.size());
  std::transform(w.begin(), w.end(), values.begin(),
                 [&](double at) { return resistance(model, at); });
  const double zero = rounding(model);
  for (std::size_t i = 0; i < w.size(); ++i) {
    if (!(values[i] < -zero)) continue;
    const std::size_t first = i;
    while (i + 1 < w.size() && values[i + 1] < 0) ++i;
    result.violations.push_back(lowest_in(w, values, first, i));
  }
  const auto all = poles(model);
  const bool stable =
      std::all_of(all.begin(), all.end(), [](Complex pole) { return pole.real() <= 0; });
  result.passive = result.violations.empty() && model.proportional >= 0 && stable;
  return result;
}

PassivityEnforcement enforce_passivity(const RationalModel& model, const Array& hz) {
  if (model.proportional < 0)
    throw InputError("the fitted inductance is negative", "fit it without a proportional term");
  for (const Complex pole : poles(model))
    if (pole.real() > 0)
      throw InputError(
          "a natural mode of the model grows, at " + number_text(mode(pole).hz) + " Hz",
          "give a model whose poles all have a negative or no real part");
  PassivityEnforcement result{model, PassivityEnforcement::Stop::already_passive, 0, 0};
  const MatrixXd g = gram(model, hz);
  const double margin = 10 * rounding(model);
  Passivity found = passivity(model);
  while (!found.passive && result.iterations < 30) {
    result.stop = PassivityEnforcement::Stop::residues_changed;
    ++result.iterations;
    if (!lift_once(result.model, found, g, margin)) break;
    found = passivity(result.model);
  }
  if (!found.passive) {
    result.stop = PassivityEnforcement::Stop::constant_raised;
    result.model.constant += margin - 1.001 * lowest_resistance(found);
  }
  result.largest_change_ohm = (evaluate(result.model, hz) - evaluate(model, hz)).abs().maxCoeff();
  return result;
}

}  // namespace ohmtilt
