#include <ohmtilt/measure/mains.h>
#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

using Eigen::Index;

constexpr double outlier_factor = 5;
constexpr double highest_mains_hz = 1000;

/// Mains frequency wanders by a tenth of a percent or two.
double reach_bins(double line_hz, const PairPower& power, double half_width_bins) {
  return half_width_bins + 0.002 * line_hz / power.bin_hz;
}

bool stands_out(const PairPower& power, double line_hz, double half_width_bins) {
  const auto left_out = bins_at({line_hz}, power, half_width_bins);
  LocalFitOptions options;
  options.least_bins =
      static_cast<Index>(std::ceil(reach_bins(line_hz, power, half_width_bins))) + 10;
  const LocalFit fit = local_fit(power, line_hz, left_out, options);
  const ComplexArray curve = fit.curve(power.cross);
  double at_line = 0, beside = 0;
  for (Index i = 0; i < fit.bins(); ++i) {
    const Index k = fit.first_bin + i;
    if (!(power.first[k] > 0)) continue;
    const double error = std::norm(power.cross[k] / power.first[k] - curve[i]) * power.first[k];
    if (left_out[static_cast<std::size_t>(k)])
      at_line = std::max(at_line, error);
    else
      beside += error / fit.used_bins;
  }
  return at_line > outlier_factor * outlier_factor * beside;
}

/// Hum has its fundamental, or where a band begins above that at least two harmonics of which one
/// is the second or third; a lone line higher up is chance.
bool is_hum(const std::vector<double>& lines_hz, double base_hz) {
  const auto has = [&](double factor) {
    return std::find(lines_hz.begin(), lines_hz.end(), factor * base_hz) != lines_hz.end();
  };
  return has(1) || (lines_hz.size() > 1 && (has(2) || has(3)));
}

}  // namespace

std::vector<bool> bins_at(const std::vector<double>& lines_hz, const PairPower& power,
                          double half_width_bins) {
  std::vector<bool> at(static_cast<std::size_t>(power.first.size()), false);
  for (const double line_hz : lines_hz) {
    const double middle = line_hz / power.bin_hz;
    const double reach = reach_bins(line_hz, power, half_width_bins);
    const auto first = static_cast<std::size_t>(std::max(0.0, std::ceil(middle - reach)));
    for (std::size_t k = first; static_cast<double>(k) <= middle + reach && k < at.size(); ++k)
      at[k] = true;
  }
  return at;
}

std::vector<double> mains_lines(const PairPower& power, double low_hz, double half_width_bins) {
  const double top_hz =
      std::min(highest_mains_hz, power.bin_hz * static_cast<double>(power.first.size()) / 1.5);
  std::vector<double> found;
  for (const double base_hz : {50.0, 60.0})
    for (double line_hz = base_hz; line_hz <= top_hz; line_hz += base_hz)
      if (line_hz >= 0.7 * low_hz && stands_out(power, line_hz, half_width_bins))
        found.push_back(line_hz);
  std::sort(found.begin(), found.end());
  found.erase(std::unique(found.begin(), found.end()), found.end());
  return found;
}

std::vector<double> hum_among(const std::vector<double>& lines_hz) {
  std::vector<double> hum;
  for (const double base_hz : {50.0, 60.0}) {
    std::vector<double> series;
    for (const double line_hz : lines_hz)
      if (std::fmod(line_hz, base_hz) == 0) series.push_back(line_hz);
    if (is_hum(series, base_hz)) hum.insert(hum.end(), series.begin(), series.end());
  }
  std::sort(hum.begin(), hum.end());
  hum.erase(std::unique(hum.begin(), hum.end()), hum.end());
  return hum;
}

}  // namespace ohmtilt
