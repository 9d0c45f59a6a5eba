#include <ohmtilt/analysis/deviation/span.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/simd.h>
#include <algorithm>
#include <array>

namespace ohmtilt {
namespace {

// Several chains of minima and maxima side by side, so that any vector width is kept busy.
constexpr std::size_t lanes = 32;

struct MinMax {
  double smallest, largest;
};

OHMTILT_WIDE MinMax extremes(const double* a, const double* b, const double* c, std::size_t count,
                             double r) {
  std::array<double, lanes> smallest;
  std::array<double, lanes> largest;
  for (std::size_t j = 0; j < lanes; ++j) smallest[j] = largest[j] = a[j] + r * (b[j] + r * c[j]);
  for (std::size_t i = lanes; i < count; i += lanes) {
    for (std::size_t j = 0; j < lanes; ++j) {
      const double value = a[i + j] + r * (b[i + j] + r * c[i + j]);
      smallest[j] = value < smallest[j] ? value : smallest[j];
      largest[j] = value > largest[j] ? value : largest[j];
    }
  }
  return {*std::min_element(smallest.begin(), smallest.end()),
          *std::max_element(largest.begin(), largest.end())};
}

std::vector<double> padded(const Array& values) {
  std::vector<double> result(values.begin(), values.end());
  while (result.size() % lanes != 0) result.push_back(result.back());
  return result;
}

}  // namespace

SpanOverResistance::SpanOverResistance(const ComplexArray& load_ohm, const TheveninSamples& from) {
  Array scale = (load_ohm + from.output_ohm).abs2().inverse();
  if (from.open_ratio.size() > 0) scale *= from.open_ratio.abs2();
  a_ = padded(load_ohm.abs2() * scale);
  b_ = padded(2 * load_ohm.real() * scale);
  c_ = padded(scale);
}

double SpanOverResistance::span_db(double ohm) const {
  const MinMax found = extremes(a_.data(), b_.data(), c_.data(), a_.size(), ohm);
  return db_from_power(found.largest / found.smallest);
}

}  // namespace ohmtilt
