#pragma once
#include <ohmtilt/base/frequency_grid.h>

namespace ohmtilt {

/// Level in dB of the simulated programme signal ([IEC60268] table II) in a third-octave
/// around hz, re its flat part: straight lines in dB over ln f between the exact midbands, the end
/// values outside 20 Hz to 20 kHz. hz > 0.
double programme_level_db(double hz);

/// Mean of power (one value a frequency; hz rises strictly) as programme material weights it: what
/// programme of rms 1 delivers when a tone of rms 1 delivers power.
double programme_mean(const Array& hz, const Array& power);

}  // namespace ohmtilt
