#pragma once
// A recording deconvolved by the exponential sweep that was played.
#include <Eigen/Core>

#include <ohmtilt/base/array.h>
#include <ohmtilt/base/frequency_grid.h>
#include <ohmtilt/measure/active_segment.h>
#include <ohmtilt/measure/progress.h>
#include <ohmtilt/measure/recording.h>

namespace ohmtilt {

/// Frames of the correlation: a block of the stimulus, and the lags from -gate to 3 gate around it.
struct Frames {
  Eigen::Index gate;  ///< a power of two of half a second or more
  Eigen::Index block() const { return 4 * gate; }
  Eigen::Index length() const { return 8 * gate; }
};

/// A sweep and what was recorded of it; lag 0 is where the recording comes `delay` samples late.
struct Sounds {
  const Recording& recording;
  const Recording& stimulus;
  Span sound;
  Eigen::Index delay;
  Frames frames;
};

struct Correlation {
  ComplexArray spectrum;  ///< of (stimulus with first) + j (stimulus with second), frame length
  Array stimulus_power;   ///< bins 0 .. length/2
};

/// Of both channels with the stimulus, by blocks.
Correlation correlation(const Sounds& sounds, const Progress& progress = nullptr);

/// The correlation made white over lags: first channel real, second imaginary. A lag may be
/// negative.
class Lags {
 public:
  explicit Lags(const Correlation& sum);
  Complex& operator[](Eigen::Index lag) { return values_[lag < 0 ? lag + values_.size() : lag]; }

 private:
  ComplexArray values_;
};

/// Up to where the sweep goes: its power falls as 1/f, and beyond its end to next to nothing.
double highest_hz(const Correlation& sum, double rate_hz);

/// Time from f to 2 f: the energy of one octave, in the middle of the band, over the power.
double octave_seconds(const Correlation& sum, const Band& band, double rate_hz, double peak);

/// Where a gate lies in lags: before the response starts, and all of it.
struct GateSpan {
  Eigen::Index before, length;
};

/// Rises as half a cosine up to the response, stays 1 for a fifth of its length, and falls as half
/// a cosine: soft, so that hum does not spread far.
Array gate_shape(const GateSpan& span);

}  // namespace ohmtilt
