#pragma once
#include <cstdint>
#include <vector>

#include <ohmtilt/base/frequency_grid.h>
#include <ohmtilt/measure/wav.h>

namespace ohmtilt {

enum class StimulusKind {
  sweep,      ///< exponential sweep with synchronised phase, for deconvolution
  multitone,  ///< tones equally spaced in ln f, each an odd number of cycles a period
  noise       ///< odd lines of the period, pink, with random phase; one of four is left out
};

struct StimulusOptions {
  StimulusKind kind = StimulusKind::sweep;
  double rate_hz = 48000;     ///< 8000 to 768000, whole
  double seconds = 10;        ///< of sound, 1 to 600; periodic kinds: rounded to whole periods
  double level_dbfs = -30;    ///< of the highest peak; -120 to 0
  Band band{20, 20000};       ///< what will be evaluated; a sweep starts and ends a little beyond
  double lead_seconds = 0.5;  ///< silence before
  double tail_seconds = 2.5;  ///< silence after, from which the noise is taken
  double tones_per_octave = 96;  ///< multitone, as far as the period has lines for them
  bool test_tones = false;  ///< test_tones.h: before the sound and after its silence, where the
                            ///< band holds their frequency
  std::uint64_t seed = 1;   ///< of the phases; the same seed, the same signal everywhere
};

/// The samples of a stimulus, full scale = 1. Throws InputError when an option breaks its rule or
/// the band does not fit below half the sample rate.
std::vector<float> stimulus_samples(const StimulusOptions& options);

/// The same as the content of a mono WAV file.
WavContent stimulus(const StimulusOptions& options);

/// Length of a period of the periodic kinds, in samples: the power of two of 1.3 s or more.
long long period_frames(double rate_hz);

}  // namespace ohmtilt
