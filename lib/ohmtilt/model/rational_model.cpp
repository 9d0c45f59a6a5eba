#include <ohmtilt/base/constants.h>
#include <ohmtilt/base/reciprocal.h>
#include <ohmtilt/model/rational_model.h>
#include <ohmtilt/model/state_space.h>
#include <ohmtilt/text/error.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace ohmtilt {
namespace {

bool comes_before(const Complex& x, const Complex& y) {
  const double size_x = std::abs(x), size_y = std::abs(y);
  if (size_x != size_y) return size_x < size_y;
  return x.imag() > y.imag();
}

bool equal_poles(Complex x, Complex y) { return std::abs(x - y) <= 1e-12 * std::abs(x + y) / 2; }

/// Newton steps on Z(s) + series_ohm as long as they shrink.
Complex polished(const RationalModel& model, double series_ohm, Complex s) {
  double last = infinity;
  for (int i = 0; i < 4; ++i) {
    const Complex step = (evaluate(model, s) + series_ohm) / derivative(model, s);
    const double size = std::abs(step);
    if (!(size < last) || size > 1e-3 * std::abs(s)) break;
    s -= step;
    last = size;
    if (size <= 1e-16 * std::abs(s)) break;
  }
  return s;
}

std::vector<Complex> all_polished(const RationalModel& model, double series_ohm,
                                  const std::vector<Complex>& rough) {
  std::vector<Complex> result;
  for (const Complex s : rough) {
    if (s.imag() < 0) continue;
    const Complex better = polished(model, series_ohm, s);
    result.push_back(better);
    if (s.imag() > 0) result.push_back(std::conj(better));
  }
  return result;
}

/// Sum of all residues: s times the proper part at infinity.
double residue_sum(const RationalModel& model) {
  double total = 0;
  for (const RealPole& term : model.real) total += term.residue;
  for (const PolePair& term : model.pairs) total += 2 * term.residue.real();
  return total;
}

/// The next term of the expansion at infinity: sum of residue times pole.
double residue_moment(const RationalModel& model) {
  double total = 0;
  for (const RealPole& term : model.real) total += term.residue * term.pole;
  for (const PolePair& term : model.pairs) total += 2 * (term.residue * term.pole).real();
  return total;
}

void add_real(RationalModel& model, const RealPole& added) {
  for (RealPole& term : model.real)
    if (equal_poles(term.pole, added.pole)) {
      term.residue += added.residue;
      return;
    }
  model.real.push_back(added);
}

void add_pair(RationalModel& model, const PolePair& added) {
  for (PolePair& term : model.pairs)
    if (equal_poles(term.pole, added.pole)) {
      term.residue += added.residue;
      return;
    }
  model.pairs.push_back(added);
}

/// Polynomial part of a/b: proportional term and constant of its expansion at infinity.
void quotient_at_infinity(const RationalModel& a, const RationalModel& b, RationalModel& result) {
  if (b.proportional != 0) {
    result.constant = a.proportional / b.proportional;
  } else if (b.constant != 0) {
    result.proportional = a.proportional / b.constant;
    result.constant = (a.constant - result.proportional * residue_sum(b)) / b.constant;
  } else if (a.proportional == 0) {
    const double size = residue_sum(b);
    result.proportional = a.constant / size;
    result.constant = (residue_sum(a) - result.proportional * residue_moment(b)) / size;
  } else {
    throw InputError("a voltage ratio of these circuits rises with the square of the frequency",
                     "put a resistance in series with the capacitor, or leave the inductor out");
  }
}

/// The terms of a whose poles b lacks, over b there.
void add_poles_of_numerator(const RationalModel& a, const RationalModel& b, RationalModel& result) {
  const auto lacks = [](const auto& terms, Complex pole) {
    return std::none_of(terms.begin(), terms.end(),
                        [&](const auto& term) { return equal_poles(term.pole, pole); });
  };
  for (const RealPole& term : a.real)
    if (lacks(b.real, term.pole))
      result.real.push_back({term.pole, term.residue / evaluate(b, term.pole).real()});
  for (const PolePair& term : a.pairs)
    if (lacks(b.pairs, term.pole))
      result.pairs.push_back({term.pole, term.residue / evaluate(b, term.pole)});
}

}  // namespace

Mode mode(Complex s) {
  const double size = std::abs(s);
  return {s, size / (2 * std::numbers::pi), s.real() == 0 ? infinity : size / (-2 * s.real())};
}

Complex evaluate(const RationalModel& model, Complex s) {
  Complex z = model.constant + model.proportional * s;
  for (const RealPole& term : model.real) z += term.residue * reciprocal(s - term.pole);
  for (const PolePair& term : model.pairs)
    z += term.residue * reciprocal(s - term.pole) +
         std::conj(term.residue) * reciprocal(s - std::conj(term.pole));
  return z;
}

ComplexArray evaluate(const RationalModel& model, const Array& hz) {
  return hz.unaryExpr(
      [&model](double f) { return evaluate(model, Complex(0, 2 * std::numbers::pi * f)); });
}

Complex derivative(const RationalModel& model, Complex s) {
  const auto of_term = [s](Complex residue, Complex pole) {
    const Complex gap = s - pole;
    return -residue / (gap * gap);
  };
  Complex sum = model.proportional;
  for (const RealPole& term : model.real) sum += of_term(term.residue, term.pole);
  for (const PolePair& term : model.pairs)
    sum +=
        of_term(term.residue, term.pole) + of_term(std::conj(term.residue), std::conj(term.pole));
  return sum;
}

std::vector<Complex> poles(const RationalModel& model) {
  std::vector<Complex> result;
  for (const RealPole& term : model.real) result.emplace_back(term.pole, 0);
  for (const PolePair& term : model.pairs) {
    result.push_back(term.pole);
    result.push_back(std::conj(term.pole));
  }
  std::sort(result.begin(), result.end(), comes_before);
  return result;
}

std::vector<Complex> zeros(const RationalModel& model, double series_ohm) {
  StateSpace system = state_space(model);
  system.d += series_ohm;
  auto result = all_polished(model, series_ohm, transmission_zeros(system, model.proportional));
  std::sort(result.begin(), result.end(), comes_before);
  return result;
}

RationalModel sum(const RationalModel& a, const RationalModel& b) {
  RationalModel result = a;
  result.constant += b.constant;
  result.proportional += b.proportional;
  for (const RealPole& term : b.real) add_real(result, term);
  for (const PolePair& term : b.pairs) add_pair(result, term);
  return result;
}

RationalModel quotient(const RationalModel& a, const RationalModel& b,
                       const std::vector<Complex>& zeros_of_b) {
  RationalModel result;
  quotient_at_infinity(a, b, result);
  for (const Complex zero : zeros_of_b) {
    const Complex residue = evaluate(a, zero) / derivative(b, zero);
    if (zero.imag() > 0) result.pairs.push_back({zero, residue});
    if (zero.imag() == 0) result.real.push_back({zero.real(), residue.real()});
  }
  add_poles_of_numerator(a, b, result);
  return result;
}

RationalModel reciprocal(const RationalModel& model) {
  RationalModel one;
  one.constant = 1;
  return quotient(one, model, zeros(model));
}

RationalModel scaled(RationalModel model, double factor) {
  model.constant *= factor;
  model.proportional *= factor;
  for (RealPole& term : model.real) term.residue *= factor;
  for (PolePair& term : model.pairs) term.residue *= factor;
  return model;
}

}  // namespace ohmtilt
