#pragma once
#include <vector>

namespace ohmtilt {

/// How many times a channel stays at its highest or lowest value as no filtered signal does: three
/// samples or more within the rounding (and the noise, `noise`, full scale = 1) of its extreme,
/// from which the samples two places outside fall off by far more than a rounded peak lets them.
/// Clipping leaves this at any level, and it stays when the recording is made louder or softer.
long long flat_tops(const std::vector<float>& samples, double step, double noise);

/// Root mean square of the quietest tenth of a second.
double quietest_rms(const std::vector<float>& samples, double rate_hz);

}  // namespace ohmtilt
