#pragma once
#include <string>
#include <vector>

#include <ohmtilt/base/array.h>
#include <ohmtilt/base/frequency_grid.h>
#include <ohmtilt/measure/local_fit.h>
#include <ohmtilt/measure/progress.h>
#include <ohmtilt/measure/recording.h>

namespace ohmtilt {

struct TransferOptions {
  Band band{20, 20000};
  double per_octave = 48;  ///< points an octave, and the width of the complex smoothing; 1 to 200
  Progress progress = {};
};

/// The second channel over the first, complex, with what noise leaves open.
struct Transfer {
  Array frequency_hz;
  ComplexArray ratio;
  Array uncertainty;             ///< one standard uncertainty of the ratio, per axis
  Array coherence;               ///< gamma squared, 0 to 1
  Array averages;                ///< independent averages behind a value
  std::vector<double> mains_hz;  ///< lines of mains hum that were found and left out
  /// Level of the first channel over the stimulus, of one scale for all recordings of a stimulus;
  /// empty without one.
  Array first_level_db = {};
  double halves_apart = 0;  ///< halves.h; 0 for a sweep, which passes each frequency once
};

/// Random error of the magnitude (relative) and of the phase (rad) of a frequency response of
/// coherence gamma^2 from independent averages: sqrt((1 - g2)/(2 n g2)) (J. S. Bendat and
/// A. G. Piersol, Random Data). Infinite at coherence 0.
double random_relative_error(double coherence, double averages);

/// The frequencies at which a transfer is given: per_octave an octave, equally spaced in ln f.
/// Throws InputError for a per_octave outside 1 to 200.
Array transfer_grid(const TransferOptions& options);

/// By averaged cross-spectra (H1) of half-overlapping Hann blocks; for any stationary signal.
/// The uncertainty follows from the coherence, and from how far the values of neighbouring bins lie
/// from a smooth curve where that is more (distortion that repeats every period), and what parts
/// the recording's halves.
/// Throws InputError when the recording is too short for eight blocks of 0.3 s.
Transfer transfer_by_averages(const Recording& recording, const TransferOptions& options = {});

}  // namespace ohmtilt
