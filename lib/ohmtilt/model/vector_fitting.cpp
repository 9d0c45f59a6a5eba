#include <ohmtilt/base/partial_fractions.h>
#include <ohmtilt/model/vector_fitting.h>
#include <ohmtilt/text/error.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace ohmtilt {
namespace {

using Eigen::Index;
using Eigen::VectorXd;
constexpr Complex j(0, 1);

RationalModel with_residues(const Poles& poles, const VectorXd& coefficients) {
  RationalModel model;
  Index at = 0;
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

FractionForm form_of(const VectorFitOptions& options) {
  return {options.constant, options.proportional};
}

/// Poles that come out unstable are mirrored.
Poles relocated(const FractionSamples& samples, const Poles& poles,
                const VectorFitOptions& options) {
  Poles next = relocated_poles(samples, poles, form_of(options));
  for (Complex& pole : next) pole.real(-std::abs(pole.real()));
  return next;
}

/// Residues for known poles.
RationalModel identified(const FractionSamples& samples, const Poles& poles,
                         const VectorFitOptions& options) {
  const VectorXd found = fitted_fractions(samples, poles, form_of(options));
  RationalModel model = with_residues(poles, found);
  const Index n = residue_count(poles);
  if (options.constant) model.constant = found[n];
  if (options.proportional) model.proportional = found[n + options.constant];
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
  const Index unknown = 2 * residue_count(poles) + options.constant + options.proportional;
  if (poles.empty() || options.iterations < 1 || unknown > 2 * hz.size())
    throw InputError(std::to_string(residue_count(poles)) + " poles cannot be fitted to " +
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
  FractionSamples samples{j * (2 * std::numbers::pi * hz).cast<Complex>(), values,
                          Array::Ones(hz.size())};
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
