#pragma once
// Tones at two levels before and after the sound that is measured by: a gain that follows the level
// or drifts shows in them.
#include <array>
#include <vector>

#include <ohmtilt/measure/active_segment.h>
#include <ohmtilt/measure/recording.h>

namespace ohmtilt {

constexpr double test_tone_hz = 997;       ///< no whole number of samples a period at usual rates
constexpr double test_tone_seconds = 0.5;  ///< of each; two of them stand one after the other
constexpr double test_tone_gap_seconds = 0.4;  ///< of silence to the sound
constexpr double test_tone_step_db = 20;       ///< the softer below the louder

/// A soft tone followed by a loud one of amplitude 1, or the other way round.
std::vector<double> test_tone_pair(double rate_hz, bool soft_first);

/// What the tones say of a recording. Zeros where there are none, or where noise covers it.
struct ToneGains {
  /// How much more gain each channel has for a tone 20 dB softer, dB: the largest of both pairs.
  std::array<double, 2> more_when_soft_db{};
  /// By how much the second channel's gain over the first's rose from before to after, dB.
  double drift_db = 0;

  /// The relative error of a ratio of that magnitude. A gain of level^-s makes ratio^(1 - s) of
  /// it, s being the larger of the channels' (as for a level 3 dB further: gains lag behind).
  double ratio_error(double ratio) const;
};

/// Of a recording that comes delay_seconds late against its stimulus. A stimulus without such tones
/// gives zeros; the second channel counts where `both`.
ToneGains tone_gains(const Recording& recording, const Recording& stimulus, double delay_seconds,
                     bool both);

}  // namespace ohmtilt
