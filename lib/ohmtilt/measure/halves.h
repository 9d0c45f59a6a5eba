#pragma once
#include <vector>

#include <ohmtilt/base/array.h>
#include <ohmtilt/base/frequency_grid.h>

namespace ohmtilt {

/// Sums over one half of a recording, one value a bin.
struct HalfSpectrum {
  Array first;         ///< power of the first channel
  ComplexArray cross;  ///< conj(first) second
};

/// By how much the second half's ratio differs from the first's, relative: rms over the thirds of
/// an octave whose mean difference stands out of the bins' own scatter (four standard errors, and
/// half a percent); 0 where fewer than a third of them do. `used`: which bins count. `correlation`:
/// how many bins have the information of one.
double halves_apart(const HalfSpectrum& one, const HalfSpectrum& other,
                    const std::vector<bool>& used, double bin_hz, const Band& band,
                    double correlation);

}  // namespace ohmtilt
