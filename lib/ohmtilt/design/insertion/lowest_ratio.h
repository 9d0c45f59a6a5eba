#pragma once
#include <vector>

#include <ohmtilt/base/array.h>

namespace ohmtilt {

/// p z + q with real p and q.
struct RealAffine {
  double p = 0, q = 0;
};

/// The smallest |over(z)|^2 / |under(z)|^2 over complex z given as |z|^2 and 2 Re z, one value a
/// point, both from padded_to_lanes().
double lowest_ratio(const std::vector<double>& square, const std::vector<double>& twice_real,
                    const RealAffine& over, const RealAffine& under);

/// values, the last one repeated up to whole vector registers. values has at least one.
std::vector<double> padded_to_lanes(const Array& values);

}  // namespace ohmtilt
