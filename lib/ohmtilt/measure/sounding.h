#pragma once
#include <Eigen/Core>
#include <vector>

namespace ohmtilt {

/// Frames from first to last, which both count.
struct Span {
  Eigen::Index first, last;
};

/// From the first to the last sample above a thousandth of the peak.
Span sounding(const std::vector<float>& samples);

}  // namespace ohmtilt
