#include <ohmtilt/analysis/deviation/deviation_uncertainty.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/curve/interpolation.h>
#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

namespace ohmtilt {
namespace {

using Eigen::Index;

/// The index of the point below f plus f's part of the step in ln f.
double place_of(const Array& hz, double f) {
  const auto above = std::upper_bound(hz.begin(), hz.end(), f) - hz.begin();
  const Index left = std::clamp<Index>(above - 1, 0, hz.size() - 2);
  return static_cast<double>(left) + std::log(f / hz[left]) / std::log(hz[left + 1] / hz[left]);
}

/// How much alike the errors at two places are: 1 at the same one, 0 from one data step apart.
double likeness(double place, double other) { return std::max(0.0, 1 - std::abs(place - other)); }

// Coverage factors of each frequency by itself and of the whole curve. A small error between points
// that the process expects is at times far too small, so that its tails are heavy; a large one is
// that of the process' own amplitude, which the whole curve tells.
struct Coverage {
  double normal, noise, small_gap, large_gap, end;
};
constexpr Coverage pointwise{1.96, 2.0, 1.8, 2.5, 2.8}, simultaneous{3.0, 3.2, 8.5, 3.7, 2.6};
constexpr double gap_between = 0.05;  // nepers or radians: between a small and a large one
constexpr double gap_profile = 1.0;   // exponent of 4 t (1 - t) within a gap
constexpr double averaged = 0.4;      // of a datum's noise that is less in the middle of a gap

/// The change of the deviation by relative errors of Z, one value a frequency of all_hz().
struct LoadSensitivity {
  Array magnitude_db, phase_db;
};

LoadSensitivity sensitivity(const ComplexArray& load_ohm, const TheveninSamples& from,
                            const TheveninSamples& to) {
  const ComplexArray effect =
      db_per_neper * load_ohm *
      ((load_ohm + from.output_ohm).inverse() - (load_ohm + to.output_ohm).inverse());
  return {effect.real(), -effect.imag()};
}

/// Variances of ln|Z| and of the phase, of errors that are alike within one step of the data.
struct LocalVariance {
  Array magnitude, phase;
};

/// Variances of gaps, each times the square of its coverage factor.
Array covered(const Array& variance, const Coverage& k) {
  const Array share = (1 + variance.sqrt() / gap_between).inverse();
  return variance * (k.large_gap + (k.small_gap - k.large_gap) * share).square();
}

LocalVariance covered(const LocalVariance& of, const Coverage& k) {
  return {covered(of.magnitude, k), covered(of.phase, k)};
}

/// Where a frequency lies among the gaps that CurveErrors tells of.
struct InGap {
  Index gap = 0;
  double bump = 0;  ///< 0 at a datum, 1 in the middle of the gap
};

InGap in_gap(const CurveErrors& errors, double place, double u) {
  const auto outside = [&](Index g) {
    return std::abs(u - errors.gap_ln_f[g]) - errors.gap_width[g] / 2;
  };
  Index gap =
      std::lower_bound(errors.gap_ln_f.begin(), errors.gap_ln_f.end(), u) - errors.gap_ln_f.begin();
  gap = std::min<Index>(gap, errors.gap_ln_f.size() - 1);
  if (gap > 0 && outside(gap - 1) < outside(gap)) --gap;
  const double t = place - std::floor(place);
  return {gap, std::pow(std::clamp(4 * t * (1 - t), 0.0, 1.0), gap_profile)};
}

class LocalErrors {
 public:
  LocalErrors(const ImpedanceCurve& curve, const CurveErrors& errors, const Array& hz)
      : curve_(curve), errors_(errors), ln_f_(hz.log()), place_(hz.size()) {
    for (Index i = 0; i < hz.size(); ++i) {
      place_[i] = place_of(curve.frequency_hz(), hz[i]);
      in_gap_.push_back(in_gap(errors, place_[i], ln_f_[i]));
    }
  }

  const Array& place() const { return place_; }

  LocalVariance noise() const {
    const double n = errors_.noise;
    Array here(ln_f_.size());
    for (Index i = 0; i < here.size(); ++i)
      here[i] = n * (1 - averaged * in_gap_[std::size_t(i)].bump);
    if (curve_.has_phase()) return {here, here};
    return {here, Array::Constant(here.size(), n)};
  }
  LocalVariance rounding() const {
    const LogInterpolator at(curve_.frequency_hz(), errors_.rounding);
    Array magnitude(ln_f_.size());
    for (Index i = 0; i < ln_f_.size(); ++i)
      magnitude[i] =
          at.at(std::clamp(std::exp(ln_f_[i]), curve_.range().low_hz, curve_.range().high_hz));
    if (!curve_.has_phase()) return {magnitude, magnitude};
    return {magnitude, Array::Constant(ln_f_.size(), errors_.phase_rounding)};
  }
  LocalVariance gaps() const {
    if (curve_.has_phase()) return {in_gaps(errors_.gap_magnitude), in_gaps(errors_.gap_phase)};
    return {in_gaps(errors_.gap_magnitude), Array::Zero(ln_f_.size())};
  }
  LocalVariance missing_phase() const {
    if (curve_.has_phase()) return {Array::Zero(ln_f_.size()), Array::Zero(ln_f_.size())};
    return {Array::Zero(ln_f_.size()), phase_variance_of_gaps(errors_, ln_f_)};
  }

 private:
  Array in_gaps(const Array& variance) const {
    Array result(ln_f_.size());
    for (Index i = 0; i < result.size(); ++i)
      result[i] = variance[in_gap_[std::size_t(i)].gap] * in_gap_[std::size_t(i)].bump;
    return result;
  }
  const ImpedanceCurve& curve_;
  const CurveErrors& errors_;
  Array ln_f_, place_;
  std::vector<InGap> in_gap_;
};

/// Variance in dB^2 of the deviation on the grid: that of the change, and of the anchor's where
/// they are not one.
Array anchored_variance(const DeviationGrid& grid, const LoadSensitivity& by, const Array& place,
                        const LocalVariance& of) {
  const Array all = by.magnitude_db.square() * of.magnitude + by.phase_db.square() * of.phase;
  const Index points = grid.grid_hz.size(), anchors = grid.anchor_hz.size();
  if (anchors == 0) return all;
  const double anchor = std::pow(mean_over_ln_f(grid.anchor_hz, all.tail(anchors).sqrt()), 2);
  Array result = all.head(points) + anchor;
  if (anchors == 1)
    for (Index i = 0; i < points; ++i)
      result[i] -= 2 * likeness(place[i], place[points]) * std::sqrt(all[i] * anchor);
  return result.max(0);
}

/// How far a cause raises and lowers the deviation, in dB squared.
struct Sides {
  Array up, down;
};

void add(const Array& variance, double factor, Sides& sides) {
  sides.up += factor * factor * variance;
  sides.down += factor * factor * variance;
}

class Changed {
 public:
  Changed(const DeviationGrid& grid, const ComplexArray& load_ohm, const TheveninSamples& from,
          const TheveninSamples& to)
      : grid_(grid),
        load_ohm_(load_ohm),
        magnitude_ohm_(load_ohm.abs()),
        phase_(load_ohm.arg()),
        from_(from),
        to_(to),
        before_db_(deviation_db(load_ohm)) {}

  /// The phase turned by this much (radians, one a frequency) either way, within +-90 degrees.
  Sides by_phase(const Array& turn) const { return sides(turned(turn), turned(-turn)); }
  /// All magnitudes larger or smaller by this relative amount.
  Sides by_scale(double relative) const {
    return sides(load_ohm_ * (1 + relative), load_ohm_ / (1 + relative));
  }

 private:
  Array deviation_db(const ComplexArray& load_ohm) const {
    return deviation(grid_, load_ohm, from_, to_).deviation_db;
  }
  ComplexArray turned(const Array& turn) const {
    constexpr double right_angle = std::numbers::pi / 2;
    const Array phase = (phase_ + turn).max(-right_angle).min(right_angle);
    ComplexArray result(phase.size());
    result.real() = magnitude_ohm_ * phase.cos();
    result.imag() = magnitude_ohm_ * phase.sin();
    return result;
  }
  Sides sides(const ComplexArray& one, const ComplexArray& other) const {
    const Array a = deviation_db(one) - before_db_, b = deviation_db(other) - before_db_;
    return {a.max(b).max(0).square(), (-a).max(-b).max(0).square()};
  }

  const DeviationGrid& grid_;
  const ComplexArray load_ohm_;
  const Array magnitude_ohm_, phase_;
  const TheveninSamples& from_;
  const TheveninSamples& to_;
  const Array before_db_;
};

Array half_width(const Sides& sides) { return sides.up.max(sides.down).sqrt(); }

void add(const Sides& more, Sides& sides) {
  sides.up += more.up;
  sides.down += more.down;
}

}  // namespace

std::vector<IntervalCause> causes(const IntervalParts& parts) {
  std::vector<IntervalCause> all{
      {parts.interpolation_db.maxCoeff(), "the gaps between its points", "more points"},
      {parts.noise_db.maxCoeff(), "its noise", "less noise"},
      {parts.missing_phase_db.maxCoeff(), "the phase computed across its gaps", "the phase"},
      {parts.band_ends_db.maxCoeff(), "the phase near the ends of its band", "the phase"},
      {parts.rounding_db.maxCoeff(), "its digits", "more digits"},
      {parts.stated_db.maxCoeff(), "the uncertainty that its file states",
       "a smaller uncertainty than the one that its file states"},
      {parts.scale_db.maxCoeff(), "the error of scale that its file states",
       "a better calibration of its scale"}};
  std::stable_sort(all.begin(), all.end(),
                   [](const auto& a, const auto& b) { return a.most_db > b.most_db; });
  return all;
}

DeviationInterval deviation_interval(const ImpedanceCurve& curve, const CurveErrors& errors,
                                     const DeviationGrid& grid, const ComplexArray& load_ohm,
                                     const TheveninSamples& from, const TheveninSamples& to) {
  const Array hz = grid.all_hz();
  const Index points = grid.grid_hz.size();
  const LoadSensitivity by = sensitivity(load_ohm, from, to);
  const LocalErrors local(curve, errors, hz);
  const auto variance = [&](const LocalVariance& of) {
    return anchored_variance(grid, by, local.place(), of);
  };
  const Array rounding = variance(local.rounding());
  const LocalVariance gaps = local.gaps(), missing_phase = local.missing_phase();
  Array noise = variance(local.noise());
  Array stated = Array::Zero(points);
  if (curve.has_uncertainty()) {
    stated =
        standard_uncertainty_db(grid, load_ohm, load_uncertainty(curve, grid, load_ohm), from, to)
            .square();
    noise = (noise - stated).max(0);  // what the file states holds its noise
  }
  const Changed changed(grid, load_ohm, from, to);
  const Array lower = (hz / curve.range().low_hz).log().max(0).unaryExpr(&end_phase_profile);
  const Array upper = (curve.range().high_hz / hz).log().max(0).unaryExpr(&end_phase_profile);
  const auto ends = [&](double factor) {
    Sides both{Array::Zero(points), Array::Zero(points)};
    if (errors.lower_end > 0) add(changed.by_phase(factor * errors.lower_end * lower), both);
    if (errors.upper_end > 0) add(changed.by_phase(factor * errors.upper_end * upper), both);
    return both;
  };
  const auto sum = [&](const Coverage& k) {
    Sides all = ends(k.end);
    add(rounding, k.normal, all);
    add(stated, k.normal, all);
    add(noise, k.noise, all);
    add(variance(covered(gaps, k)), 1, all);
    add(variance(covered(missing_phase, k)), 1, all);
    return all;
  };
  const double scale = pointwise.normal * curve.notes().scale_uncertainty_percent / 100;
  Sides scaled{Array::Zero(points), Array::Zero(points)};
  if (scale > 0) scaled = changed.by_scale(scale);

  DeviationInterval result;
  result.hidden_q = hidden_quality(curve);
  Sides each = sum(pointwise), whole = sum(simultaneous);
  add(scaled, each);
  add(scaled, whole);
  const Array deviation_db = deviation(grid, load_ohm, from, to).deviation_db;
  result.lower_95_db = deviation_db - each.down.sqrt();
  result.upper_95_db = deviation_db + each.up.sqrt();
  result.whole_95_db = half_width(whole).maxCoeff();
  result.parts = {variance(covered(gaps, pointwise)).sqrt(),
                  pointwise.noise * noise.sqrt(),
                  variance(covered(missing_phase, pointwise)).sqrt(),
                  half_width(ends(pointwise.end)),
                  pointwise.normal * rounding.sqrt(),
                  pointwise.normal * stated.sqrt(),
                  half_width(scaled)};
  return result;
}

LoadUncertainty load_uncertainty(const ImpedanceCurve& curve, const DeviationGrid& grid,
                                 const ComplexArray& load_ohm) {
  const Array hz = grid.all_hz();
  const LogInterpolator relative(curve.frequency_hz(),
                                 curve.uncertainty_ohm() / curve.magnitude_ohm());
  return {relative.at(hz) * load_ohm.abs(),
          hz.unaryExpr([&](double f) { return place_of(curve.frequency_hz(), f); })};
}

Array standard_uncertainty_db(const DeviationGrid& grid, const ComplexArray& load_ohm,
                              const LoadUncertainty& uncertainty, const TheveninSamples& from,
                              const TheveninSamples& to) {
  const ComplexArray effect_db =
      ((load_ohm + from.output_ohm).inverse() - (load_ohm + to.output_ohm).inverse()) *
      (db_per_neper * uncertainty.ohm);
  const Index points = grid.grid_hz.size();
  const Index anchors = grid.anchor_hz.size();
  const ComplexArray here_db = effect_db.head(points);
  if (anchors == 0) return here_db.abs();
  const double anchor_db = mean_over_ln_f(grid.anchor_hz, effect_db.tail(anchors).abs());
  Array variance = here_db.abs2() + anchor_db * anchor_db;
  if (anchors == 1)
    for (Index i = 0; i < points; ++i)
      variance[i] -= 2 * likeness(uncertainty.place[i], uncertainty.place[points]) *
                     std::real(here_db[i] * std::conj(effect_db[points]));
  return variance.max(0).sqrt();
}

}  // namespace ohmtilt
