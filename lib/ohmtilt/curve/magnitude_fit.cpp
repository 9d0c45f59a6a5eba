#include <ohmtilt/curve/magnitude_fit.h>

#include <cmath>

namespace ohmtilt {
namespace {

constexpr int relocations = 6;

/// Damped pairs spread over the range, and for an odd order one real pole above it.
Poles starting_poles(double low, double high, int order) {
  Poles poles;
  const int pairs = order / 2;
  if (order % 2 == 1) poles.emplace_back(-high, 0);
  for (int i = 1; i <= pairs; ++i)
    poles.push_back(low * std::pow(high / low, double(i) / (pairs + 1)) * Complex(-0.3, 0.9));
  return poles;
}

/// A pole on the positive real axis would be one at a real frequency; it is mirrored.
Poles relocated(const FractionSamples& samples, const Poles& poles, const FractionForm& form) {
  Poles next = relocated_poles(samples, poles, form);
  for (Complex& pole : next)
    if (pole.imag() == 0) pole.real(-std::abs(pole.real()));
  return next;
}

}  // namespace

MagnitudeFit::MagnitudeFit(const Array& x, const Array& values, int order, bool linear)
    : poles_(starting_poles(x.minCoeff(), x.maxCoeff(), order)), form_{true, linear} {
  const FractionSamples samples{x.cast<Complex>(), values.cast<Complex>(), values.inverse()};
  for (int i = 0; i < relocations; ++i) poles_ = relocated(samples, poles_, form_);
  coefficients_ = fitted_fractions(samples, poles_, form_);
  residual_ = std::sqrt((at(x) / values - 1).square().mean());
}

Array MagnitudeFit::at(const Array& x) const {
  return fractions_at(x.cast<Complex>(), poles_, form_, coefficients_).real();
}

int MagnitudeFit::order() const { return static_cast<int>(residue_count(poles_)); }

}  // namespace ohmtilt
