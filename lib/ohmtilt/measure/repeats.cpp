#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/percentiles.h>
#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/measure/repeats.h>
#include <ohmtilt/text/error.h>
#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

using Eigen::Index;

constexpr double pooled_octaves = 1;
constexpr Index least_pooled = 5;
constexpr int most_takes = 1000;

/// Which points of each curve are common to all.
std::vector<std::vector<Index>> common_points(const std::vector<ImpedanceCurve>& curves) {
  std::vector<std::vector<Index>> places(curves.size());
  for (Index i = 0; i < curves[0].points(); ++i) {
    std::vector<Index> found;
    for (const auto& curve : curves)
      found.push_back(datum_at(curve.frequency_hz(), curves[0].frequency_hz()[i]));
    if (std::count(found.begin(), found.end(), -1) > 0) continue;
    for (std::size_t k = 0; k < curves.size(); ++k) places[k].push_back(found[k]);
  }
  if (places[0].size() < 2)
    throw InputError("the measurements have no frequencies in common",
                     "take the same band and points an octave for all");
  return places;
}

/// Variance per axis of one take about the mean, by itself at each frequency.
Array take_variance(const std::vector<ComplexArray>& takes, const ComplexArray& mean) {
  Array sum = Array::Zero(mean.size());
  for (const auto& one : takes) sum += (one - mean).abs2();
  return sum / (2.0 * static_cast<double>(takes.size() - 1));
}

/// The mean of each value's neighbours: few takes tell a variance badly at one frequency.
Array averaged_nearby(const Array& hz, const Array& values) {
  Array result(values.size());
  const double reach = std::exp2(pooled_octaves / 2);
  for (Index i = 0; i < hz.size(); ++i) {
    Index first = i, last = i;
    while (first > 0 && (hz[first - 1] * reach >= hz[i] || i - first < least_pooled)) --first;
    while (last + 1 < hz.size() && (hz[last + 1] <= hz[i] * reach || last - i < least_pooled))
      ++last;
    result[i] = values.segment(first, last - first + 1).mean();
  }
  return result;
}

}  // namespace

RepeatedCurve mean_of_repeats(const std::vector<ImpedanceCurve>& takes) {
  if (takes.empty()) throw InputError("there is no measurement", "record one");
  const auto places = common_points(takes);
  const Array hz = takes[0].frequency_hz()(places[0]);
  const double count = static_cast<double>(takes.size());
  std::vector<ComplexArray> values;
  ComplexArray mean = ComplexArray::Zero(hz.size());
  Array own = Array::Zero(hz.size());
  for (std::size_t k = 0; k < takes.size(); ++k) {
    values.push_back(takes[k].impedance_ohm()(places[k]));
    mean += values.back() / count;
    own += takes[k].uncertainty_ohm()(places[k]).square() / count;
  }
  Array random = Array::Zero(hz.size());
  if (takes.size() > 1) random = averaged_nearby(hz, take_variance(values, mean));
  const Array steady = (own - random).max(0);
  const Array whole = takes.size() > 1 ? Array(steady + random / count) : own;
  return {ImpedanceCurve(takes[0].notes(), hz, mean.abs(), mean.arg() / degree, whole.sqrt()),
          random.sqrt(), steady.sqrt()};
}

double stated_percent(const ImpedanceCurve& curve, const Array& uncertainty_ohm) {
  return percentile(200 * uncertainty_ohm / curve.magnitude_ohm(), 0.9);
}

int takes_needed(const RepeatedCurve& repeated, double percent) {
  const auto stated = [&](double takes) {
    const Array whole =
        (repeated.steady_ohm.square() + repeated.random_ohm.square() / takes).sqrt();
    return stated_percent(repeated.curve, whole);
  };
  for (int takes = 1; takes <= most_takes; takes = takes < 20 ? takes + 1 : takes + takes / 10)
    if (stated(takes) <= percent) return takes;
  return 0;
}

CurveDifference difference_of(const ImpedanceCurve& first, const ImpedanceCurve& second) {
  const auto places = common_points({first, second});
  const Array one = first.magnitude_ohm()(places[0]), other = second.magnitude_ohm()(places[1]);
  CurveDifference result;
  result.frequency_hz = first.frequency_hz()(places[0]);
  const Array ratio = other / one;
  result.percent = 100 * (ratio - 1);
  result.uncertainty_95 = Array::Zero(one.size());
  if (first.has_uncertainty() && second.has_uncertainty())
    result.uncertainty_95 = 200 * ratio *
                            ((first.uncertainty_ohm()(places[0]) / one).square() +
                             (second.uncertainty_ohm()(places[1]) / other).square())
                                .sqrt();
  result.percent.abs().maxCoeff(&result.largest);
  const auto beyond = (result.percent.abs() > result.uncertainty_95).count();
  result.seen = 10 * beyond > result.percent.size();
  return result;
}

}  // namespace ohmtilt
