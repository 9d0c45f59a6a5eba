#pragma once
#include <ohmtilt/base/fourier.h>
#include <ohmtilt/measure/deconvolution.h>

namespace ohmtilt {

/// Harmonics of the second channel that its ratio to the first does not make of the first's own, as
/// amplitudes over the second channel's fundamental, one a frequency of the fundamental; 0 where
/// noise covers them. What a source distorts reaches both channels and is not in it.
struct SweepHarmonics {
  Array second, third;

  /// Largest relative error of the fundamental that a memoryless distortion with this third
  /// harmonic makes: a cubic one moves the fundamental by three times the third harmonic (from
  /// sin^3 x = (3 sin x - sin 3x)/4), clipping by less.
  Array fundamental_error() const { return 3 * third; }
};

/// The linear response of both channels, deconvolved and gated.
struct LinearResponse {
  const PairSpectra& spectra;
  double bin_hz;
  double top_hz;  ///< of what was swept
};

/// A sweep that rises exponentially passes n f by octave_seconds log2(n) later than f, so that the
/// nth harmonic's response comes that much before the linear one when the recording is deconvolved
/// by the sweep [Farina2000]. Above top_hz/n the last value stands.
SweepHarmonics sweep_harmonics(const Sounds& sounds, double octave_seconds,
                               const LinearResponse& linear, const Array& frequency_hz);

}  // namespace ohmtilt
