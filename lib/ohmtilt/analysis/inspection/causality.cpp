#include <ohmtilt/analysis/inspection/causality.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/orthogonal.h>
#include <ohmtilt/curve/curve_errors.h>
#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/curve/measurement_noise.h>
#include <ohmtilt/model/vector_fitting.h>
#include <ohmtilt/text/error.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace ohmtilt {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

VectorFit fitted(const ImpedanceCurve& curve, int order) {
  VectorFitOptions options;
  options.order = order;
  options.iterations = 6;
  options.proportional = true;
  options.relative = true;
  return vector_fit(curve.frequency_hz(), curve.impedance_ohm(), options);
}

double rms(const ComplexArray& values) { return std::sqrt(values.abs2().mean()); }

ComplexArray residual_of(const ImpedanceCurve& curve, const RationalModel& model) {
  return (curve.impedance_ohm() - evaluate(model, curve.frequency_hz())) / curve.magnitude_ohm();
}

/// The lowest order after which more poles no longer help, or the data's noise is reached.
RationalModel as_many_as_needed(const ImpedanceCurve& curve, double noise) {
  const int most = static_cast<int>(std::min<Index>(20, curve.points() / 4));
  RationalModel best = fitted(curve, std::min(4, most)).model;
  double error = rms(residual_of(curve, best));
  for (int order = 8; order <= most && error > std::max(1.1 * noise, 5e-4); order += 4) {
    RationalModel next = fitted(curve, order).model;
    const double next_error = rms(residual_of(curve, next));
    if (next_error < error) {
      error = next_error;
      best = std::move(next);
    }
  }
  return best;
}

/// Columns 1, the poles' two or one real functions, s, over |Z|.
Eigen::ArrayXXcd pole_columns(const ImpedanceCurve& curve, const RationalModel& model) {
  const ComplexArray s = Complex(0, 2 * std::numbers::pi) * curve.frequency_hz().cast<Complex>();
  Eigen::ArrayXXcd columns(s.size(), model.order() + 2);
  Index at = 0;
  columns.col(at++).setOnes();
  for (const RealPole& term : model.real) columns.col(at++) = (s - term.pole).inverse();
  for (const PolePair& term : model.pairs) {
    const ComplexArray one = (s - term.pole).inverse(),
                       other = (s - std::conj(term.pole)).inverse();
    columns.col(at++) = one + other;
    columns.col(at++) = Complex(0, 1) * (one - other);
  }
  columns.col(at) = s;
  return columns.colwise() / curve.magnitude_ohm().cast<Complex>();
}

VectorXd scaled_least_squares(MatrixXd columns, const VectorXd& right) {
  const Eigen::RowVectorXd size = columns.colwise().norm().cwiseMax(1e-300);
  columns.array().rowwise() /= size.array();
  return least_norm_squares(columns, right).array() / size.transpose().array();
}

/// What the fit of one part alone leaves of both. The column that the part cannot see (s for the
/// real part, 1 for the imaginary one) comes from the other.
ComplexArray predicted_residual(const ImpedanceCurve& curve, const RationalModel& model,
                                ImpedancePart part) {
  const Eigen::ArrayXXcd columns = pole_columns(curve, model);
  const ComplexArray right = curve.impedance_ohm() / curve.magnitude_ohm();
  const Index n = columns.cols();
  const bool real = part == ImpedancePart::real;
  const Index unseen = real ? n - 1 : 0;
  const MatrixXd seen = real ? MatrixXd(columns.leftCols(n - 1).real().matrix())
                             : MatrixXd(columns.rightCols(n - 1).imag().matrix());
  VectorXd x = VectorXd::Zero(n);
  const Array fitted_part = real ? Array(right.real()) : Array(right.imag());
  x.segment(real ? 0 : 1, n - 1) = scaled_least_squares(seen, fitted_part.matrix());
  const ComplexArray left = right - (columns.matrix() * x.cast<Complex>()).array();
  const ComplexArray column = columns.col(unseen);
  const Array other = real ? Array(column.imag()) : Array(column.real());
  const Array rest = real ? Array(left.imag()) : Array(left.real());
  x[unseen] = (other * rest).sum() / other.square().sum();
  return right - (columns.matrix() * x.cast<Complex>()).array();
}

double inner_rms(const Array& hz, const Array& values) {
  const double low = std::log(hz[0]), width = std::log(hz[hz.size() - 1]) - low;
  double squares = 0;
  int count = 0;
  for (Index i = 0; i < hz.size(); ++i) {
    const double place = (std::log(hz[i]) - low) / width;
    if (place < 1.0 / 6 || place > 5.0 / 6) continue;
    squares += values[i] * values[i];
    ++count;
  }
  return count > 0 ? std::sqrt(squares / count) : 0;
}

constexpr double explained_by_errors = 4;  // standard uncertainties of the expected phase
constexpr double explained_by_gaps =
    8;                                  // of those that gaps make, which are far too small at times
constexpr double dense_an_octave = 24;  // from there on a fit must follow every resonance

/// Standard uncertainty that the gaps between the magnitudes leave of the phase computed from them.
Array gap_phase_deg(const ImpedanceCurve& curve) {
  const ImpedanceCurve bare({}, curve.frequency_hz(), curve.magnitude_ohm());
  return phase_variance_of_gaps(curve_errors(bare), curve.frequency_hz().log()).sqrt() / degree;
}

/// Of |Z|, rms: what rounding the magnitudes and the phases leaves.
double rounding_percent(const ImpedanceCurve& curve) {
  const double phase = rounding_step(curve.phase_deg()) * degree;
  const Array magnitude = rounding_step(curve.magnitude_ohm()) / curve.magnitude_ohm();
  return 100 * std::sqrt((magnitude.square().mean() + phase * phase) / 12);
}

Causality::Verdict judged(const Causality& found, double noise_percent, double points_an_octave,
                          bool may_hide_resonances) {
  const double residual = points_an_octave < dense_an_octave ? 0 : found.rms_residual_percent;
  if (residual > std::max(3.0, 6 * noise_percent) || found.phase_unexplained_rms_deg > 10)
    return Causality::Verdict::inconsistent;
  const double odd_deg = may_hide_resonances ? 7 : 3;
  // Noise makes a fit miss a narrow resonance at times, which leaves 1 to 1.5 % rms.
  if (residual > std::max(2.0, 4 * noise_percent) || found.phase_unexplained_rms_deg > odd_deg)
    return Causality::Verdict::doubtful;
  return Causality::Verdict::consistent;
}

}  // namespace

const char* to_string(Causality::Verdict verdict) {
  switch (verdict) {
    case Causality::Verdict::consistent:
      return "consistent";
    case Causality::Verdict::doubtful:
      return "doubtful";
    case Causality::Verdict::inconsistent:
      return "inconsistent";
  }
  return "";
}

Causality causality(const ImpedanceCurve& curve, const CausalityOptions& options) {
  if (!curve.has_phase() || curve.points() < 8)
    throw InputError("causality cannot be tested without a phase and eight points",
                     "give a curve with phase");
  Causality result;
  const double noise = noise_percent(curve) * std::numbers::sqrt2;
  const RationalModel model = options.elements > 0 ? fitted(curve, options.elements).model
                                                   : as_many_as_needed(curve, noise / 100);
  result.elements = static_cast<int>(model.order());
  result.residual = options.part == ImpedancePart::complex
                        ? residual_of(curve, model)
                        : predicted_residual(curve, model, options.part);
  LinearTestOptions linear;
  linear.part = options.part;
  linear.limit = options.limit;
  linear.most_elements = 20;
  const LinearTest test = linear_test(curve.frequency_hz(), curve.impedance_ohm(), linear);
  result.mu = test.mu;
  result.mu_elements = test.elements;
  result.rms_residual_percent = 100 * rms(result.residual);
  result.largest_residual_percent = 100 * result.residual.abs().maxCoeff();
  const ExpectedPhase expected = expected_phase(curve);
  result.phase_difference_deg = (curve.phase_deg() - expected.phase_deg).unaryExpr([](double d) {
    return std::remainder(d, 360.0);
  });
  const Array allowed =
      (explained_by_errors * expected.standard_deg).max(explained_by_gaps * gap_phase_deg(curve));
  const Array unexplained = (result.phase_difference_deg.abs() - allowed).max(0);
  result.phase_unexplained_rms_deg = inner_rms(curve.frequency_hz(), unexplained);
  result.phase_difference_rms_deg = inner_rms(curve.frequency_hz(), result.phase_difference_deg);
  const Band range = curve.range();
  result.verdict = judged(result, std::hypot(noise, rounding_percent(curve)),
                          double(curve.points() - 1) / std::log2(range.high_hz / range.low_hz),
                          hidden_quality(curve).has_value());
  return result;
}

}  // namespace ohmtilt
