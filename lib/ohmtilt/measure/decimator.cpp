#include <ohmtilt/measure/decimator.h>
#include <Eigen/Core>
#include <boost/math/special_functions/bessel.hpp>
#include <cmath>
#include <numbers>

namespace ohmtilt {
namespace {

constexpr int odd_taps = 20;  // a side; 2 odd_taps * 2 - 1 taps in all, every second one zero
constexpr int reach = 2 * odd_taps - 1;

/// Kaiser's window [Kaiser1974]: beta = 0.1102 (A - 8.7) for A dB.
double kaiser(double place) {
  constexpr double beta = 0.1102 * (95 - 8.7);
  // In double throughout, as valgrind has no wider type.
  constexpr boost::math::policies::policy<boost::math::policies::promote_double<false>> in_double;
  return boost::math::cyl_bessel_i(0, beta * std::sqrt(1 - place * place), in_double) /
         boost::math::cyl_bessel_i(0, beta, in_double);
}

std::vector<float> half_band_taps() {
  std::vector<double> taps;
  double sum = 0;
  for (int i = 0; i < odd_taps; ++i) {
    const int n = 2 * i + 1;
    const double sinc = std::sin(std::numbers::pi * n / 2) / (std::numbers::pi * n);
    taps.push_back(sinc * kaiser(static_cast<double>(n) / (reach + 1)));
    sum += 2 * taps.back();
  }
  std::vector<float> scaled;
  for (const double tap : taps) scaled.push_back(static_cast<float>(tap * 0.5 / sum));
  return scaled;
}

}  // namespace

Halving::Halving() : taps_(half_band_taps()), waiting_(reach, 0.0f) {}

void Halving::feed(const std::vector<float>& block, std::vector<float>& out) {
  waiting_.insert(waiting_.end(), block.begin(), block.end());
  const auto size = static_cast<Eigen::Index>(waiting_.size());
  const Eigen::Index outputs = size > 2 * reach ? (size - 2 * reach + 1) / 2 : 0;
  if (outputs == 0) return;
  // Every second sample on its own, so that one tap meets all outputs at once. The first output's
  // middle is sample reach, and its neighbours at odd distances are the even samples.
  using Every = Eigen::Map<const Eigen::ArrayXf, 0, Eigen::InnerStride<2>>;
  const Eigen::ArrayXf beside = Every(waiting_.data(), outputs + reach);
  Eigen::ArrayXf sum = 0.5f * Every(waiting_.data() + reach, outputs);
  constexpr Eigen::Index centre = (reach + 1) / 2;  // the neighbour that follows the first middle
  for (Eigen::Index i = 0; i < odd_taps; ++i)
    sum +=
        taps_[i] * (beside.segment(centre + i, outputs) + beside.segment(centre - 1 - i, outputs));
  out.insert(out.end(), sum.begin(), sum.end());
  waiting_.erase(waiting_.begin(), waiting_.begin() + static_cast<std::ptrdiff_t>(2 * outputs));
}

int halvings(double rate_hz, double high_hz) {
  int count = 0;
  for (; high_hz <= Halving::passed_share * rate_hz; rate_hz /= 2) ++count;
  return count;
}

}  // namespace ohmtilt
