#include <ohmtilt/base/decibel.h>
#include <ohmtilt/curve/minimum_phase.h>
#include <ohmtilt/model/rational_fit.h>
#include <ohmtilt/model/vector_fitting.h>
#include <ohmtilt/text/error.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>

namespace ohmtilt {
namespace {

using Eigen::Index;
constexpr Index least_points = 8;

RationalModel fitted(const ImpedanceCurve& curve, int order) {
  VectorFitOptions options;
  options.order = order;
  options.proportional = true;
  options.relative = true;
  return vector_fit(curve.frequency_hz(), curve.impedance_ohm(), options).model;
}

/// Model over measured impedance.
ComplexArray ratio(const ImpedanceCurve& curve, const RationalModel& model) {
  return evaluate(model, curve.frequency_hz()) / curve.impedance_ohm();
}

double rms_of(const ImpedanceCurve& curve, const RationalModel& model) {
  return std::sqrt((ratio(curve, model) - 1.0).abs2().mean());
}

/// Residues and poles, the constant and the proportional term are free; real and imaginary parts
/// are data.
double information_criterion(const ImpedanceCurve& curve, int order, double rms) {
  const auto data = static_cast<double>(2 * curve.points());
  return data * 2 * std::log(std::max(rms, 1e-15)) + (2 * order + 2) * std::log(data);
}

RationalModel chosen(const ImpedanceCurve& curve, const RationalFitOptions& options) {
  const int most = std::min(options.largest_order, static_cast<int>(curve.points() / 4));
  RationalModel best;
  double lowest = std::numeric_limits<double>::infinity();
  for (int order = 2; order <= most; order += 2) {
    RationalModel next = fitted(curve, order);
    const double rms = rms_of(curve, next);
    const double criterion = information_criterion(curve, order, rms);
    if (criterion < lowest) {
      lowest = criterion;
      best = std::move(next);
    }
    if (100 * rms < options.enough_percent) break;
  }
  return best;
}

void make_passive(const ImpedanceCurve& curve, RationalFit& fit) {
  // A coil of negative inductance is no coil; what is left without it is mended below.
  const bool negative_coil = fit.model.proportional < 0;
  if (negative_coil) fit.model.proportional = 0;
  PassivityEnforcement made = enforce_passivity(fit.model, curve.frequency_hz());
  const bool untouched = !negative_coil && made.stop == PassivityEnforcement::Stop::already_passive;
  fit.passivity = untouched ? RationalFit::Passivity::passive : RationalFit::Passivity::enforced;
  fit.enforced_change_ohm = made.largest_change_ohm;
  fit.model = std::move(made.model);
}

/// fitted is the curve with the phase that the model is held against.
void measure_errors(const ImpedanceCurve& fitted, bool phase_measured, RationalFit& fit) {
  const ComplexArray by = ratio(fitted, fit.model);
  const Array error = phase_measured ? Array((by - 1.0).abs()) : Array((by.abs() - 1).abs());
  Index worst = 0;
  fit.largest_error_percent = 100 * error.maxCoeff(&worst);
  fit.largest_error_hz = fitted.frequency_hz()[worst];
  fit.rms_error_percent = 100 * std::sqrt(error.square().mean());
  fit.phase_error_deg = std::sqrt(by.arg().square().mean()) / degree;
}

/// Refitted to the curve's magnitudes with the model's own phase.
RationalModel with_own_phase(const ImpedanceCurve& curve, RationalModel model) {
  for (int pass = 0; pass < 4; ++pass) {
    const Array phase_deg = evaluate(model, curve.frequency_hz()).arg() / degree;
    model = fitted(curve.with_phase(phase_deg), static_cast<int>(model.order()));
  }
  return model;
}

}  // namespace

RationalFit fit_rational_model(const ImpedanceCurve& curve, const RationalFitOptions& options) {
  if (curve.points() < std::max<Index>(least_points, 2 * options.order))
    throw InputError(
        "a rational model of this order needs more points than " + std::to_string(curve.points()),
        "lower the order to half of the points, or give a finer curve");
  const ImpedanceCurve whole =
      curve.has_phase() ? curve : curve.with_phase(minimum_phase(curve).phase_deg);
  RationalFit fit;
  fit.model = options.order > 0 ? fitted(whole, options.order) : chosen(whole, options);
  if (!curve.has_phase()) fit.model = with_own_phase(curve, std::move(fit.model));
  make_passive(whole, fit);
  fit.order = static_cast<int>(fit.model.order());
  measure_errors(whole, curve.has_phase(), fit);
  return fit;
}

}  // namespace ohmtilt
