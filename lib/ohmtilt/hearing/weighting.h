#pragma once
#include <ohmtilt/base/array.h>

namespace ohmtilt {

/// Frequency weighting A in dB, 0 at 1 kHz: [IEC61672] annex E in closed form, with pole
/// frequencies 20.598997, 107.65265, 737.86223 and 12194.217 Hz. hz > 0. Agrees with the standard's
/// table to its rounding at exact third-octave frequencies (not at nominal ones).
double a_weighting_db(double hz);
Array a_weighting_db(const Array& hz);

/// Root of the integral over hz of the squared density (V per root Hz, one value per frequency of a
/// rising grid), by the trapezoidal rule over ln f: rms volt between its ends. Two parts in 100 000
/// for white noise on 480 points over three decades.
double noise_volt(const Array& hz, const Array& volt_per_root_hz);
/// The same A-weighted.
double a_weighted_noise_volt(const Array& hz, const Array& volt_per_root_hz);

}  // namespace ohmtilt
