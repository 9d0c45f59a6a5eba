#pragma once
// Sources that are a resistance and nothing else.
#include <ohmtilt/analysis/damping/damping.h>
#include <ohmtilt/chain/chain.h>

#include <vector>

namespace ohmtilt::test {

inline std::vector<DampingSource> resistances(const std::vector<double>& ohm) {
  std::vector<DampingSource> sources;
  for (const double value : ohm) sources.push_back(damping_source(resistive_source(value)));
  return sources;
}

inline TheveninSamples ohms(double ohm, Eigen::Index count) {
  return {ComplexArray::Constant(count, ohm), {}};
}

}  // namespace ohmtilt::test
