#include <ohmtilt/analysis/deviation/power_range.h>
#include <ohmtilt/analysis/deviation/span.h>
#include <ohmtilt/base/decibel.h>

namespace ohmtilt {
namespace {

std::vector<double> padded(const Array& values) {
  std::vector<double> result(values.begin(), values.end());
  while (result.size() % span_lanes != 0) result.push_back(result.back());
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
  const PowerRange found = power_range(a_.data(), b_.data(), c_.data(), a_.size(), ohm);
  return db_from_power(found.largest / found.smallest);
}

}  // namespace ohmtilt
