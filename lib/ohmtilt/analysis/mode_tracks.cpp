#include <ohmtilt/analysis/mode_tracks.h>
#include <ohmtilt/base/error.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <optional>
#include <tuple>

namespace ohmtilt {
namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();
const Complex at_infinity(-infinity, 0);

/// f'/f of the model.
Complex logarithmic_slope(const RationalModel& model, Complex s) {
  Complex value = model.constant + model.slope * s, slope = model.slope;
  const auto add = [&](Complex pole, Complex residue) {
    const Complex inverse = 1.0 / (s - pole), term = residue * inverse;
    value += term;
    slope -= term * inverse;
  };
  for (const RealPole& term : model.real) add(term.pole, term.residue);
  for (const PolePair& term : model.pairs) {
    add(term.pole, term.residue);
    add(std::conj(term.pole), std::conj(term.residue));
  }
  return slope / value;
}

/// The Ehrlich-Aberth correction of zero i, for the numerator of the model: its logarithmic slope
/// is that of the model and 1/(s - pole) for each pole.
Complex correction(const RationalModel& model, const std::vector<Complex>& poles,
                   const std::vector<Complex>& zeros, std::size_t i) {
  const Complex s = zeros[i];
  Complex sum = logarithmic_slope(model, s);
  if (!std::isfinite(std::abs(sum))) return 0;  // the zero itself
  for (const Complex pole : poles) sum += 1.0 / (s - pole);
  for (std::size_t j = 0; j < zeros.size(); ++j)
    if (j != i && std::isfinite(zeros[j].real())) sum -= 1.0 / (s - zeros[j]);
  return 1.0 / sum;
}

/// The zeros from nearby ones; nothing where they do not settle.
std::optional<std::vector<Complex>> refined(const RationalModel& model,
                                            const std::vector<Complex>& poles,
                                            std::vector<Complex> zeros) {
  double last = infinity;
  for (int step = 0; step < 12; ++step) {
    double largest = 0;
    for (std::size_t i = 0; i < zeros.size(); ++i) {
      if (!std::isfinite(zeros[i].real()) || zeros[i].imag() < 0) continue;
      Complex by = correction(model, poles, zeros, i);
      if (!std::isfinite(std::abs(by))) return std::nullopt;
      const bool real = zeros[i].imag() == 0;
      if (real) by = by.real();
      largest = std::max(largest, std::abs(by) / std::abs(zeros[i]));
      const Complex before = zeros[i];
      zeros[i] -= by;
      if (real) continue;
      if (zeros[i].imag() <= 0) return std::nullopt;
      // Its conjugate goes with it.
      const auto twin = std::find(zeros.begin(), zeros.end(), std::conj(before));
      if (twin == zeros.end()) return std::nullopt;
      *twin = std::conj(zeros[i]);
    }
    if (largest < 1e-13 || (largest < 1e-11 && largest >= last)) return zeros;
    last = largest;
  }
  return std::nullopt;
}

}  // namespace

std::vector<Complex> continued(const std::vector<Complex>& last,
                               const std::vector<Complex>& values) {
  std::vector<std::tuple<double, std::size_t, std::size_t>> distances;
  for (std::size_t i = 0; i < last.size(); ++i)
    for (std::size_t j = 0; j < values.size(); ++j) {
      const double size = std::max(std::min(std::abs(last[i]), std::abs(values[j])), 1e-300);
      const double gap = std::abs(last[i] - values[j]) / size;
      if (std::isfinite(gap)) distances.emplace_back(gap, i, j);
    }
  std::sort(distances.begin(), distances.end());
  std::vector<Complex> ordered(last.size(), at_infinity);
  std::vector<bool> placed(last.size()), used(values.size());
  for (const auto& [gap, i, j] : distances) {
    if (placed[i] || used[j]) continue;
    ordered[i] = values[j];
    placed[i] = used[j] = true;
  }
  std::size_t free = 0;
  for (std::size_t j = 0; j < values.size(); ++j) {
    if (used[j]) continue;
    while (free < last.size() && placed[free]) ++free;
    if (free < last.size())
      ordered[free++] = values[j];
    else
      ordered.push_back(values[j]);
  }
  return ordered;
}

Eigen::ArrayXXcd track_zeros(const ModelAt& model, const Array& parameter,
                             const std::vector<Complex>& start) {
  std::vector<Complex> now = continued(start, zeros(model(parameter[0])));
  const auto columns = static_cast<Eigen::Index>(now.size());
  Eigen::ArrayXXcd tracks(parameter.size(), columns);
  const std::vector<Complex> all_poles = poles(model(parameter[0]));
  for (Eigen::Index i = 0; i < parameter.size(); ++i) {
    const RationalModel here = model(parameter[i]);
    if (i > 0) {
      auto next = refined(here, all_poles, now);
      now = next ? std::move(*next) : continued(now, zeros(here));
    }
    for (Eigen::Index j = 0; j < columns; ++j) tracks(i, j) = now[static_cast<std::size_t>(j)];
  }
  return tracks;
}

PairMode pair_mode(Complex s1, Complex s2) {
  const double product = (s1 * s2).real(), sum = (s1 + s2).real();
  if (!(product > 0) || !std::isfinite(product))
    throw InputError("two modes of opposite growth are no resonance", "check the active parts");
  const double size = std::sqrt(product);
  const double slower = std::min(std::abs(s1.real()), std::abs(s2.real()));
  PairMode mode{s1, s2, size / (2 * std::numbers::pi), infinity, infinity, infinity};
  if (slower <= 1e-14 * size) return mode;
  mode.q = -size / sum;
  mode.decay_20_db_ms = 1000 * std::log(10.0) / slower;
  mode.decay_60_db_ms = 1000 * std::log(1000.0) / slower;
  return mode;
}

}  // namespace ohmtilt
