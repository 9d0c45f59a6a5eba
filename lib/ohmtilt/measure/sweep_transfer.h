#pragma once
#include <ohmtilt/measure/recording.h>
#include <ohmtilt/measure/transfer.h>

namespace ohmtilt {

/// A transfer by deconvolution, and what the deconvolution saw on the way.
struct SweepTransfer {
  Transfer transfer;
  double delay_seconds;     ///< of the recording against the stimulus
  double harmonic_seconds;  ///< by how much the second harmonic comes early
  double clock_ppm;         ///< playback against recording clock, magnitude
};

/// Both channels deconvolved by the exponential sweep that was played (A. Farina, 108th AES
/// Convention, 2000), in the lag domain gated to the linear part, so that harmonics, which come
/// early, stay outside; then the ratio of the two. Noise is what the same gate lets through later,
/// where no response is left, so it needs quiet after the sweep; mains hum, a plain sinusoid there,
/// is measured and taken away. The uncertainty holds that noise and how far the ratio moves when
/// the gate narrows.
/// Throws InputError when the rates differ, the stimulus is no sweep (a periodic one, say), the
/// sweep is not found in the recording, or the recording ends less than a second and a half after
/// it.
SweepTransfer transfer_by_sweep(const Recording& recording, const Recording& stimulus,
                                const TransferOptions& options = {});

}  // namespace ohmtilt
