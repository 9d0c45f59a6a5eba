#pragma once
#include <Eigen/Core>
#include <vector>

namespace ohmtilt {

/// Frames from first to last, which both count.
struct Span {
  Eigen::Index first, last;
};

/// Sound is what lies above a thousandth of the peak.
/// The stretches of it that at least 0.2 s of silence part.
std::vector<Span> sounding_stretches(const std::vector<float>& samples, double rate_hz);
/// The longest; an empty span at the start for none.
Span longest(const std::vector<Span>& stretches);
/// The longest stretch: what is measured by, less test tones before and after it.
Span main_sound(const std::vector<float>& samples, double rate_hz);

/// Root mean square over the largest magnitude within span: 1/sqrt 2 of a sweep, whose envelope is
/// constant, and far less of noise and many tones. 0 for silence.
double rms_over_peak(const std::vector<float>& samples, const Span& span);
/// A sweep has at least this share.
constexpr double least_sweep_share = 0.55;

}  // namespace ohmtilt
