#pragma once
#include <ohmtilt/measure/recording.h>
#include <ohmtilt/measure/transfer.h>

namespace ohmtilt {

/// A transfer by a periodic stimulus, and what the lines that it leaves out say of distortion.
struct PeriodicTransfer {
  Transfer transfer;
  double even_distortion;  ///< rms of the second channel at even lines left out, over all of it; 0
  double odd_distortion;   ///< the same at odd lines, 0 where none is left out or noise covers it
  double clock_ppm;        ///< playback against recording clock, magnitude
  double delay_seconds;    ///< of the recording against the stimulus
};

/// The period of a stimulus that repeats itself (multitone, periodic noise), in samples at its
/// reduced rate; 0 for one that does not, or not within five seconds.
Eigen::Index repeated_frames(const Recording& stimulus);

/// Both channels at the lines of the stimulus's period, all periods but the first under one Hann
/// window, so that a line stands in a bin of its own and noise is measured between the lines;
/// then the ratio of the two, smoothed as in the other methods. What distortion repeats every
/// period falls on lines too: a stimulus of odd lines keeps that of even order off its own lines,
/// and odd lines left out show that of odd order (J. Schoukens, R. Pintelon et al., "Random-odd
/// multisines", from memory). The uncertainty holds the noise between the lines, or how far the
/// lines scatter about a smooth curve where that is more, and what parts the recording's halves.
/// Throws InputError when the rates differ, the stimulus is not in the recording, or fewer than
/// four periods are left.
PeriodicTransfer transfer_by_periods(const Recording& recording, const Recording& stimulus,
                                     Eigen::Index period, const TransferOptions& options = {});

}  // namespace ohmtilt
