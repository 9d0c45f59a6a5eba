#include <ohmtilt/base/elimination.h>
#include <ohmtilt/base/products.h>
#include <ohmtilt/measure/local_fit.h>
#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

using Eigen::Index;

struct Window {
  Index first, last;
  Index size() const { return last - first + 1; }
};

Window window_around(const PairPower& power, double hz, double half_hz) {
  const Index top = power.first.size() - 1;
  const auto bin = [&](double f) { return static_cast<Index>(std::llround(f / power.bin_hz)); };
  return {std::clamp<Index>(bin(hz - half_hz), 1, top),
          std::clamp<Index>(bin(hz + half_hz), 1, top)};
}

Array weights_in(const PairPower& power, const Window& window, const std::vector<bool>& left_out) {
  Array weights = power.first.segment(window.first, window.size());
  for (Index i = 0; i < weights.size(); ++i)
    if (left_out[static_cast<std::size_t>(window.first + i)]) weights[i] = 0;
  return weights;
}

/// In how many bins the weight really stands.
double effective_bins(const Array& weights) {
  const double squares = weights.square().sum();
  return squares > 0 ? std::pow(weights.sum(), 2) / squares : 0;
}

int order_for(double bins) { return bins >= 5 ? 2 : bins >= 3 ? 1 : 0; }

}  // namespace

Complex LocalFit::value(const ComplexArray& cross) const {
  const auto here = cross.segment(first_bin, bins());
  return {(value_weights * here.real()).sum(), (value_weights * here.imag()).sum()};
}

ComplexArray LocalFit::curve(const ComplexArray& cross) const {
  const Eigen::VectorXcd here = cross.segment(first_bin, bins()).matrix();
  const Eigen::VectorXd used = (value_weights != 0).cast<double>().matrix();
  const Eigen::MatrixXcd p = powers.cast<Complex>();
  const Eigen::VectorXcd sums = p * used.cast<Complex>().cwiseProduct(here);
  return (p.transpose() * (inverse.cast<Complex>() * sums)).array();
}

LocalFit local_fit(const PairPower& power, double hz, const std::vector<bool>& left_out,
                   const LocalFitOptions& options) {
  double half_hz = std::max(hz * (std::exp2(0.5 / options.per_octave) - 1),
                            static_cast<double>(options.least_bins) * power.bin_hz);
  Window window = window_around(power, hz, half_hz);
  Array weights = weights_in(power, window, left_out);
  while (effective_bins(weights) < 5.5 && half_hz < 0.4 * hz) {
    half_hz *= 1.3;
    window = window_around(power, hz, half_hz);
    weights = weights_in(power, window, left_out);
  }
  const Index n = window.size();
  const int order = order_for(effective_bins(weights));
  LocalFit fit{window.first, Array::Zero(n), Eigen::MatrixXd(order + 1, n), {}, 0, 0};
  const Array distance =
      (Array::LinSpaced(n, static_cast<double>(window.first), static_cast<double>(window.last)) *
           power.bin_hz -
       hz) /
      half_hz;
  fit.powers.row(0).setOnes();
  for (int p = 1; p <= order; ++p)
    fit.powers.row(p) = (fit.powers.row(p - 1).array() * distance.transpose()).matrix();
  const double scale = std::max(weights.maxCoeff(), 1e-300);
  const Eigen::MatrixXd normal =
      product_transposed(fit.powers * (weights / scale).matrix().asDiagonal(), fit.powers);
  fit.inverse =
      solve_symmetric(normal, Eigen::MatrixXd(Eigen::MatrixXd::Identity(order + 1, order + 1))) /
      scale;
  const Array used = (weights > 0).cast<double>();
  fit.value_weights = (fit.inverse.row(0) * fit.powers).transpose().array() * used;
  fit.used_bins = used.sum();
  fit.variance_factor = fit.inverse(0, 0);
  return fit;
}

}  // namespace ohmtilt
