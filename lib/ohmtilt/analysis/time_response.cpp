#include <ohmtilt/analysis/time_response.h>
#include <ohmtilt/base/error.h>

#include <cmath>
#include <numbers>

namespace ohmtilt {
namespace {

using Eigen::Index;

/// Adds amount e^(pole (t - start)) from the first instant at or after start.
void add_exponential(ComplexArray& sum, const TimeGrid& grid, double start_s, Complex pole,
                     Complex amount) {
  // An instant that is the start but for rounding counts as it.
  const auto first = static_cast<Index>(std::ceil(start_s / grid.step_s - 1e-9));
  const double late = std::max(0.0, static_cast<double>(first) * grid.step_s - start_s);
  const Complex turn = std::exp(pole * grid.step_s);
  Complex now = amount * std::exp(pole * late);
  const double nothing = 1e-40 * std::abs(amount);
  for (Index i = first; i < grid.count; ++i) {
    sum[i] += now;
    now = {now.real() * turn.real() - now.imag() * turn.imag(),
           now.real() * turn.imag() + now.imag() * turn.real()};
    if (std::norm(now) <= nothing * nothing) break;
  }
}

void add_both(ComplexArray& sum, const TimeGrid& grid, double length_s, Complex pole,
              Complex amount) {
  add_exponential(sum, grid, 0, pole, amount);
  add_exponential(sum, grid, length_s, pole, -amount);
}

/// residue w / (pole^2 + w^2): what a sine that starts leaves behind at the pole.
Complex transient(Complex pole, Complex residue, double omega) {
  Complex below = pole * pole + omega * omega;
  // An undamped pole at the burst's own frequency grows without end; the least damping limits it.
  if (std::abs(below) < 1e-12 * omega * omega) below = Complex(0, -1e-9 * omega * omega);
  return residue * omega / below;
}

}  // namespace

Array TimeGrid::time_s() const {
  return step_s * Array::LinSpaced(count, 0, static_cast<double>(count - 1));
}

Array step_response(const RationalModel& ratio, const TimeGrid& grid) {
  ComplexArray sum = ComplexArray::Zero(grid.count);
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
  return sum.real() + settled + drift;
}

BurstResponse burst_response(const RationalModel& ratio, const ToneBurst& burst,
                             const TimeGrid& grid) {
  if (!(burst.hz > 0) || !std::isfinite(burst.hz) || burst.cycles < 1)
    throw InputError("a burst needs a positive frequency and at least one cycle",
                     "give --burst 1000 --cycles 8, for instance");
  const double omega = 2 * std::numbers::pi * burst.hz, length = burst.length_s();
  ComplexArray sum = ComplexArray::Zero(grid.count);
  for (const RealPole& term : ratio.real)
    add_both(sum, grid, length, term.pole, transient(term.pole, term.residue, omega));
  for (const PolePair& term : ratio.pairs)
    add_both(sum, grid, length, term.pole, 2.0 * transient(term.pole, term.residue, omega));
  const Complex forced = evaluate(ratio, Complex(0, omega)) / Complex(0, 1);
  add_both(sum, grid, length, Complex(0, omega), forced);
  return {sum.real(), sum.abs()};
}

}  // namespace ohmtilt
