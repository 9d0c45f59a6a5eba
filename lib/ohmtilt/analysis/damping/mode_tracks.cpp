#include <ohmtilt/analysis/damping/mode_tracks.h>
#include <ohmtilt/base/constants.h>
#include <ohmtilt/base/simd.h>
#include <ohmtilt/text/error.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <numeric>
#include <optional>
#include <tuple>

namespace ohmtilt {
namespace {

constexpr std::size_t lanes = 8;
/// Too far away to weigh anything in a sum of 1/(s - place), and still a number.
constexpr Complex far_away(-1e200, 0);

/// Complex numbers as two arrays, filled up to whole lanes.
struct Split {
  std::vector<double> re, im;
  Split(const std::vector<Complex>& values, Complex filling)
      : re((values.size() + lanes - 1) / lanes * lanes, filling.real()),
        im(re.size(), filling.imag()) {
    for (std::size_t i = 0; i < values.size(); ++i) set(i, values[i]);
  }
  void set(std::size_t i, Complex value) {
    re[i] = value.real();
    im[i] = value.imag();
  }
};

using Lanes = std::array<double, lanes>;

Complex total(const Lanes& re, const Lanes& im) {
  return {std::accumulate(re.begin(), re.end(), 0.0), std::accumulate(im.begin(), im.end(), 0.0)};
}

/// The sum of 1/(s - place).
OHMTILT_WIDE Complex inverses(const Split& places, Complex s) {
  Lanes re{}, im{};
  for (std::size_t i = 0; i < places.re.size(); i += lanes)
    for (std::size_t t = 0; t < lanes; ++t) {
      const double x = s.real() - places.re[i + t], y = s.imag() - places.im[i + t];
      const double scale = 1 / (x * x + y * y);
      re[t] += x * scale;
      im[t] -= y * scale;
    }
  return total(re, im);
}

/// The sums of residue/(s - pole) and of residue/(s - pole)^2.
struct Fractions {
  Complex first, second;
};
OHMTILT_WIDE Fractions fractions(const Split& poles, const Split& residues, Complex s) {
  Lanes first_re{}, first_im{}, second_re{}, second_im{};
  for (std::size_t i = 0; i < poles.re.size(); i += lanes)
    for (std::size_t t = 0; t < lanes; ++t) {
      const double x = s.real() - poles.re[i + t], y = s.imag() - poles.im[i + t];
      const double scale = 1 / (x * x + y * y);
      const double re = x * scale, im = -y * scale;
      const double term_re = residues.re[i + t] * re - residues.im[i + t] * im;
      const double term_im = residues.re[i + t] * im + residues.im[i + t] * re;
      first_re[t] += term_re;
      first_im[t] += term_im;
      second_re[t] += term_re * re - term_im * im;
      second_im[t] += term_re * im + term_im * re;
    }
  return {total(first_re, first_im), total(second_re, second_im)};
}

/// One value of every term, of a pair also its conjugate.
template <class Value>
std::vector<Complex> of_terms(const RationalModel& model, const Value& value) {
  std::vector<Complex> values;
  for (const RealPole& term : model.real) values.emplace_back(value(term));
  for (const PolePair& term : model.pairs) {
    values.push_back(value(term));
    values.push_back(std::conj(value(term)));
  }
  return values;
}

/// The zeros of one model, refined together.
class Refinement {
 public:
  Refinement(const RationalModel& model, std::vector<Complex> start)
      : model_(model),
        poles_(of_terms(model, [](const auto& term) { return term.pole; }), far_away),
        residues_(of_terms(model, [](const auto& term) { return term.residue; }), 0),
        zeros_(std::move(start)),
        split_zeros_(zeros_, far_away) {
    for (std::size_t i = 0; i < zeros_.size(); ++i)
      if (!std::isfinite(zeros_[i].real())) split_zeros_.set(i, far_away);
  }

  /// Nothing where they do not settle.
  std::optional<std::vector<Complex>> run() {
    constexpr double settled = 1e-7;
    for (int step = 0; step < 12; ++step) {
      double largest = 0;
      for (std::size_t i = 0; i < zeros_.size(); ++i) {
        if (!std::isfinite(zeros_[i].real()) || zeros_[i].imag() < 0) continue;
        const auto by = move(i);
        if (!by) return std::nullopt;
        largest = std::max(largest, std::abs(*by) / std::abs(zeros_[i]));
      }
      // The next correction is of the order of the cube of this one.
      if (largest < settled) return std::move(zeros_);
    }
    return std::nullopt;
  }

 private:
  /// The logarithmic slope of the model's numerator, whose zeros are the model's: f'/f and 1/(s -
  /// pole) for each pole.
  Complex numerator_slope(Complex s) const {
    const auto [first, second] = fractions(poles_, residues_, s);
    const Complex value = model_.constant + model_.proportional * s + first;
    return (model_.proportional - second) / value + inverses(poles_, s);
  }

  /// The Ehrlich-Aberth correction of zero i.
  Complex correction(std::size_t i) {
    const Complex slope = numerator_slope(zeros_[i]);
    if (!std::isfinite(slope.real()) || !std::isfinite(slope.imag())) return 0;  // the zero itself
    split_zeros_.set(i, far_away);
    const Complex of_others = inverses(split_zeros_, zeros_[i]);
    split_zeros_.set(i, zeros_[i]);
    return 1.0 / (slope - of_others);
  }

  /// Corrects zero i, and its conjugate with it; nothing where it leaves its half of the plane.
  std::optional<Complex> move(std::size_t i) {
    Complex by = correction(i);
    if (!std::isfinite(by.real()) || !std::isfinite(by.imag())) return std::nullopt;
    const Complex before = zeros_[i];
    if (before.imag() == 0) {
      by = by.real();
      set(i, before - by);
      return by;
    }
    const auto twin = std::find(zeros_.begin(), zeros_.end(), std::conj(before));
    if ((before - by).imag() <= 0 || twin == zeros_.end()) return std::nullopt;
    set(i, before - by);
    set(static_cast<std::size_t>(twin - zeros_.begin()), std::conj(before - by));
    return by;
  }

  void set(std::size_t i, Complex value) {
    zeros_[i] = value;
    split_zeros_.set(i, value);
  }

  const RationalModel& model_;
  Split poles_, residues_;
  std::vector<Complex> zeros_;
  Split split_zeros_;
};

/// Whether the model surely has count zeros: as many as poles, and one more with a proportional
/// term.
bool has_zeros(const RationalModel& model, std::size_t count) {
  if (model.proportional == 0 && model.constant == 0) return false;
  return count == static_cast<std::size_t>(model.order() + (model.proportional != 0 ? 1 : 0));
}

/// The zeros of model that continue those of a model little different.
std::vector<Complex> refined(const RationalModel& model, const std::vector<Complex>& start) {
  auto zeros_of_model = Refinement(model, start).run();
  return zeros_of_model ? std::move(*zeros_of_model) : continued(start, zeros(model));
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
  std::vector<Complex> now = start;
  Eigen::ArrayXXcd tracks;
  for (Eigen::Index i = 0; i < parameter.size(); ++i) {
    const RationalModel here = model(parameter[i]);
    now = has_zeros(here, now.size()) ? refined(here, now) : continued(now, zeros(here));
    if (i == 0) tracks.resize(parameter.size(), static_cast<Eigen::Index>(now.size()));
    for (Eigen::Index j = 0; j < tracks.cols(); ++j)
      tracks(i, j) = now[static_cast<std::size_t>(j)];
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
