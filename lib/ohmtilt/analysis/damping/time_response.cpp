#include <ohmtilt/analysis/damping/time_response.h>
#include <ohmtilt/base/simd.h>
#include <ohmtilt/text/error.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace ohmtilt {
namespace {

using Eigen::Index;

constexpr Index lanes = 8;

/// One value an instant, in two arrays that vector registers take side by side.
struct Signal {
  Array re, im;
  explicit Signal(Index count) : re(Array::Zero(count)), im(Array::Zero(count)) {}
};

/// Eight neighbouring instants of a decaying exponential.
struct Instants {
  std::array<double, lanes> re, im;
};

/// Adds now to the signal from instant first on, turned at every eighth, until it is nothing.
OHMTILT_WIDE void add_turning(Signal& sum, Index first, Instants now, Complex turn,
                              double nothing) {
  for (Index i = first; i < sum.re.size(); i += lanes) {
    const Index used = std::min(lanes, sum.re.size() - i);
    for (Index t = 0; t < used; ++t) {
      sum.re[i + t] += now.re[t];
      sum.im[i + t] += now.im[t];
    }
    for (Index t = 0; t < lanes; ++t) {
      const double re = now.re[t] * turn.real() - now.im[t] * turn.imag();
      now.im[t] = now.re[t] * turn.imag() + now.im[t] * turn.real();
      now.re[t] = re;
    }
    if (std::abs(now.re[0]) + std::abs(now.im[0]) <= nothing) break;
  }
}

/// Adds amount e^(pole (t - start)) from the first instant at or after start.
void add_exponential(Signal& sum, const TimeGrid& grid, double start_s, Complex pole,
                     Complex amount) {
  // An instant that is the start but for rounding counts as it.
  const auto first = static_cast<Index>(std::ceil(start_s / grid.step_s - 1e-9));
  const double late = std::max(0.0, static_cast<double>(first) * grid.step_s - start_s);
  Instants now;
  for (Index t = 0; t < lanes; ++t) {
    const Complex value = amount * std::exp(pole * (late + static_cast<double>(t) * grid.step_s));
    now.re[t] = value.real();
    now.im[t] = value.imag();
  }
  const Complex turn = std::exp(pole * (static_cast<double>(lanes) * grid.step_s));
  add_turning(sum, first, now, turn, 1e-20 * std::abs(amount));
}

void add_both(Signal& sum, const TimeGrid& grid, double length_s, Complex pole, Complex amount) {
  add_exponential(sum, grid, 0, pole, amount);
  add_exponential(sum, grid, length_s, pole, -amount);
}

/// residue w / (pole^2 + w^2): what a sine that starts leaves behind at the pole.
Complex transient(Complex pole, Complex residue, double omega) {
  return residue * omega / (pole * pole + omega * omega);
}

/// Whether the pole lies so near j w that its transient and its part of the forced sine, both huge,
/// would cancel to nothing but rounding.
bool meets(Complex pole, double omega) {
  return std::abs(pole * pole + omega * omega) < 1e-6 * omega * omega;
}

/// (e^(delta t) - 1)/delta, which is t at delta = 0.
Complex growth(Complex delta, double t) {
  const Complex x = delta * t;
  if (std::abs(x) < 1e-3) return t * (1.0 + x / 2.0 * (1.0 + x / 3.0 * (1.0 + x / 4.0)));
  return (std::exp(x) - 1.0) / delta;
}

/// Adds amount e^(j w (t - start)) growth(delta, t - start) from the first instant at or after
/// start.
void add_growing(Signal& sum, const TimeGrid& grid, double start_s, double omega, Complex delta,
                 Complex amount) {
  const auto first = static_cast<Index>(std::ceil(start_s / grid.step_s - 1e-9));
  for (Index i = first; i < grid.count; ++i) {
    const double t = std::max(0.0, static_cast<double>(i) * grid.step_s - start_s);
    const Complex value = amount * std::polar(1.0, omega * t) * growth(delta, t);
    sum.re[i] += value.real();
    sum.im[i] += value.imag();
  }
}

/// A pole pair that meets the sine: with d = pole - j w, residue/j times
/// (e^(pole t) - e^(jwt))/d - e^(pole t)/(pole + j w) + its conjugate's part of the forced sine.
void add_met(Signal& sum, const TimeGrid& grid, double length_s, double omega,
             const PolePair& term) {
  const Complex j(0, 1);
  const Complex amount = term.residue / j, delta = term.pole - j * omega;
  add_growing(sum, grid, 0, omega, delta, amount);
  add_growing(sum, grid, length_s, omega, delta, -amount);
  add_both(sum, grid, length_s, term.pole, -amount / (term.pole + j * omega));
  add_both(sum, grid, length_s, j * omega,
           std::conj(term.residue) / (j * omega - std::conj(term.pole)) / j);
}

}  // namespace

Array TimeGrid::time_s() const {
  return step_s * Array::LinSpaced(count, 0, static_cast<double>(count - 1));
}

Array step_response(const RationalModel& ratio, const TimeGrid& grid) {
  Signal sum(grid.count);
  double settled = ratio.constant;
  Array drift = Array::Zero(grid.count);
  for (const RealPole& term : ratio.real) {
    if (term.pole == 0) {
      drift += term.residue * grid.time_s();
      continue;
    }
    settled -= term.residue / term.pole;
    add_exponential(sum, grid, 0, term.pole, term.residue / term.pole);
  }
  for (const PolePair& term : ratio.pairs) {
    settled -= 2 * (term.residue / term.pole).real();
    add_exponential(sum, grid, 0, term.pole, 2.0 * term.residue / term.pole);
  }
  return sum.re + settled + drift;
}

BurstResponse burst_response(const RationalModel& ratio, const ToneBurst& burst,
                             const TimeGrid& grid) {
  if (!(burst.hz > 0) || !std::isfinite(burst.hz) || burst.cycles < 1)
    throw InputError("a burst needs a positive frequency and at least one cycle",
                     "give 1000 Hz and 8 cycles, for instance");
  const double omega = 2 * std::numbers::pi * burst.hz, length = burst.length_s();
  Signal sum(grid.count);
  for (const RealPole& term : ratio.real)
    add_both(sum, grid, length, term.pole, transient(term.pole, term.residue, omega));
  RationalModel apart = ratio;
  apart.pairs.clear();
  for (const PolePair& term : ratio.pairs) {
    if (meets(term.pole, omega)) {
      add_met(sum, grid, length, omega, term);
      continue;
    }
    apart.pairs.push_back(term);
    add_both(sum, grid, length, term.pole, 2.0 * transient(term.pole, term.residue, omega));
  }
  const Complex forced = evaluate(apart, Complex(0, omega)) / Complex(0, 1);
  add_both(sum, grid, length, Complex(0, omega), forced);
  return {sum.re, (sum.re.square() + sum.im.square()).sqrt()};
}

}  // namespace ohmtilt
