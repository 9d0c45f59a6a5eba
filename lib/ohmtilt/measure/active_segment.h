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

/// Root mean square over the largest magnitude within span: 1/sqrt 2 of a sweep, whose envelope is
/// constant, and far less of noise and many tones. 0 for silence.
double rms_over_peak(const std::vector<float>& samples, const Span& span);
/// A sweep has at least this share.
constexpr double least_sweep_share = 0.55;

}  // namespace ohmtilt
