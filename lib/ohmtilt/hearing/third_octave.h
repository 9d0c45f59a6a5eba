#pragma once
#include <string>
#include <vector>

#include <ohmtilt/base/frequency_grid.h>

namespace ohmtilt {

/// One fractional-octave band of [IEC61260], base ten.
struct OctaveBand {
  double nominal_hz;  ///< the rounded name (ISO 266): 31.5, 63, 125 ...
  double exact_hz;    ///< 1000 * 10^(n/10), the true midband
  Band edges;         ///< exact_hz * 10^(-+1/20) for third-octaves, 10^(-+3/20) for octaves
};

/// The 31 third-octaves from 20 Hz to 20 kHz.
std::vector<OctaveBand> third_octaves();
/// The ten octaves from 31.5 Hz to 16 kHz.
std::vector<OctaveBand> octaves();

/// "31.5", "1k", "12.5k": how a band is called in tables and on axes.
std::string short_hz(double nominal_hz);

}  // namespace ohmtilt
