#pragma once
#include <ohmtilt/base/array.h>

namespace ohmtilt {

enum class FirPhase { minimum, linear };
/// "minimum" or "linear".
const char* to_string(FirPhase phase);

struct FirOptions {
  int taps = 4095;  ///< 16 to 65535; odd for linear phase (an even number is silent at the top)
  double sample_rate_hz = 48000;  ///< 8000 to 768000
  FirPhase phase = FirPhase::minimum;
};

/// A finite impulse response that undoes a deviation.
struct Fir {
  Array taps;  ///< full scale = 1
  double sample_rate_hz = 0;
  FirPhase phase = FirPhase::minimum;
  double lead_level_db = 0;  ///< already in taps; <= 0: no steady tone leaves it above full scale
  double delay_s = 0;        ///< of linear phase: (taps - 1)/2 samples; 0 for minimum phase
};

/// The response that is the inverse of deviation_db (less its mean over ln f) at hz, which rises
/// strictly; below and above the given frequencies it stays at the value of the nearest end.
/// Minimum phase comes from the folded cepstrum (A. V. Oppenheim and R. W. Schafer, Discrete-Time
/// Signal Processing). The outer quarter of the response is faded to zero by half a cosine period.
/// Throws InputError for options out of range.
Fir inverse_fir(const Array& hz, const Array& deviation_db, const FirOptions& options);

/// Gain of fir in dB at hz, lead_level_db included, straight from the definition.
Array response_db(const Fir& fir, const Array& hz);

}  // namespace ohmtilt
