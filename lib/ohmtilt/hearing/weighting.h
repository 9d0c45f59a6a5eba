#pragma once
#include <ohmtilt/base/array.h>

namespace ohmtilt {

/// Frequency weighting A in dB, 0 at 1 kHz: [IEC61672] annex E in closed form, with pole
/// frequencies 20.598997, 107.65265, 737.86223 and 12194.217 Hz. hz > 0. Agrees with the standard's
/// table to its rounding at exact third-octave frequencies (not at nominal ones).
double a_weighting_db(double hz);
Array a_weighting_db(const Array& hz);

}  // namespace ohmtilt
