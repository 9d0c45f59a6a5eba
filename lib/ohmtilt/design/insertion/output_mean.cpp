#include <ohmtilt/base/simd.h>
#include <ohmtilt/design/insertion/output_mean.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace ohmtilt {
namespace {

constexpr double knot_ratio = 1.02;
constexpr double beyond_load = 1000;  // how far below and above the load's |Z| knots reach
/// The means are rounded, and bounds have to hold all the same.
constexpr double rounding = 1e-12;

struct Range {
  double source_ohm, middle_ohm, half_width_ohm;
};

OHMTILT_WIDE
void sum_chebyshev(const TwoPortBlock& pads, const Range& range, const double* coefficient,
                   double* powers) {
  for (std::size_t i = 0; i < TwoPortBlock::size; ++i) {
    const double scale = pads.a[i] + pads.c_siemens[i] * range.source_ohm;
    const double output_ohm = (pads.b_ohm[i] + pads.d[i] * range.source_ohm) / scale;
    const double x = (output_ohm - range.middle_ohm) / range.half_width_ohm;
    double last = 0, sum = 0;  // [Clenshaw1955]
    for (std::size_t k = OutputMeanSeries::length - 1; k > 0; --k) {
      const double next = coefficient[k] + 2 * x * sum - last;
      last = sum;
      sum = next;
    }
    powers[i] = scale * scale * (coefficient[0] + x * sum - last);
  }
}

}  // namespace

double output_mean(const InsertionTerms& terms, double source_ohm, double output_ohm) {
  return terms.mean_power({1, output_ohm - source_ohm, 0, 1});
}

OutputMeanBounds::OutputMeanBounds(const InsertionTerms& terms, const ComplexArray& load_ohm,
                                   double source_ohm)
    : source_ohm_(source_ohm), first_ohm_(load_ohm.abs().minCoeff() / beyond_load) {
  knots_.push_back(output_mean(terms, source_ohm, 0));
  const double last_ohm = load_ohm.abs().maxCoeff() * beyond_load;
  for (double ohm = first_ohm_; ohm < last_ohm; ohm *= knot_ratio)
    knots_.push_back(output_mean(terms, source_ohm, ohm));
  knots_.push_back(std::numeric_limits<double>::infinity());
}

OutputMeanBounds::Bounds OutputMeanBounds::mean_power(const ResistiveTwoPort& pad) const {
  static const double per_knot = 1 / std::log(knot_ratio);
  const double scale = pad.a + pad.c_siemens * source_ohm_;
  const double ratio = output_ohm(pad, source_ohm_) / first_ohm_;
  const double last = double(knots_.size() - 2);
  // One knot to either side where rounding could have put it into the neighbouring step.
  const double at = ratio > 0 ? std::log(ratio) * per_knot + 1 : 0;
  const auto below = static_cast<std::size_t>(std::clamp(at - rounding * last, 0.0, last));
  const auto above = static_cast<std::size_t>(std::clamp(at + rounding * last, 0.0, last)) + 1;
  return {scale * scale * knots_[below] * (1 - rounding),
          scale * scale * knots_[above] * (1 + rounding)};
}

OutputMeanSeries::OutputMeanSeries(const InsertionTerms& terms, double source_ohm, double low_ohm,
                                   double high_ohm)
    : source_ohm_(source_ohm),
      middle_ohm_((low_ohm + high_ohm) / 2),
      half_width_ohm_((high_ohm - low_ohm) / 2) {
  std::array<double, length> values;
  const auto angle = [](std::size_t k) {
    return std::numbers::pi * (double(k) + 0.5) / double(length);
  };
  for (std::size_t k = 0; k < length; ++k)
    values[k] = output_mean(terms, source_ohm, middle_ohm_ + half_width_ohm_ * std::cos(angle(k)));
  for (std::size_t j = 0; j < length; ++j) {
    double sum = 0;
    for (std::size_t k = 0; k < length; ++k) sum += values[k] * std::cos(double(j) * angle(k));
    coefficient_[j] = sum * (j == 0 ? 1 : 2) / double(length);
  }
}

void OutputMeanSeries::mean_powers(const TwoPortBlock& pads, double* powers) const {
  sum_chebyshev(pads, {source_ohm_, middle_ohm_, half_width_ohm_}, coefficient_.data(), powers);
}

}  // namespace ohmtilt
