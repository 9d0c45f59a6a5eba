#pragma once
#include <ohmtilt/measure/recording.h>
#include <ohmtilt/measure/sweep_harmonics.h>
#include <ohmtilt/measure/transfer.h>

namespace ohmtilt {

/// How the recording's time runs away from the stimulus's.
struct Drift {
  double clock_ppm = 0;     ///< playback against recording clock, magnitude, if it is even
  double step_seconds = 0;  ///< of a single step, where that explains it far better; else 0
  double step_hz = 0;       ///< the frequency that was being swept
};

/// A sweep that passes an octave faster than this does not keep its harmonics apart.
constexpr double fast_octave_seconds = 0.2;

/// A transfer by deconvolution, and what the deconvolution saw on the way.
struct SweepTransfer {
  Transfer transfer;
  double delay_seconds;     ///< of the recording against the stimulus
  double harmonic_seconds;  ///< by how much the second harmonic comes early
  Drift drift;
  SweepHarmonics harmonics;  ///< on the transfer's frequencies; empty for a fast sweep
  /// What the second channel holds from 60 to 4 ms before its response, beyond what the ratio makes
  /// of the first one's, over the response: 0 where noise covers it; below 500 Hz that of the
  /// octave above. Nothing causal and linear makes it; lossy coding does, which rounds a frame's
  /// spectrum.
  Array early;
};

/// Both channels deconvolved by the exponential sweep that was played [Farina2000], in the lag
/// domain gated to the linear part, so that harmonics, which come early, stay outside; then the
/// ratio of the two. Noise is what the same gate lets through later, where no response is left, so
/// it needs quiet after the sweep; mains hum, a plain sinusoid there, is measured and taken away.
/// The uncertainty holds that noise, how far the ratio moves when the gate narrows, and what the
/// third harmonic says of the fundamental's error. Throws InputError when the rates differ, the
/// stimulus is no sweep (a periodic one, say), the sweep is not found in the recording, or the
/// recording ends less than a second and a half after it.
SweepTransfer transfer_by_sweep(const Recording& recording, const Recording& stimulus,
                                const TransferOptions& options = {});

}  // namespace ohmtilt
