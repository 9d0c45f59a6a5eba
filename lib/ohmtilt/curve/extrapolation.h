#pragma once
#include <ohmtilt/base/array.h>
#include <vector>

namespace ohmtilt {

/// How ln|Z| may go on beyond an end of the data: its slope over the outward ln f, one value a line
/// between neighbouring places, within +-1 as passivity demands of a power law.
struct Continuations {
  Array best;                     ///< the mean of the fits, weighted by how well they fit
  std::vector<Array> candidates;  ///< each in keeping with the data near the end; at least two
};

/// Continues ln_ohm (over ln_f, both rising from the far side to the end, >= 2 points) to the
/// outward places, which rise from 0 in ln f. The candidates are the straight line through the last
/// points and, over windows of several lengths, a power law or a rational fit of |Z|^2 of the order
/// that the data support (Bayesian information criterion [Schwarz1978]), if positive and within
/// passive slopes nearby. Their mean is steadier than any of them.
Continuations continued(const Array& ln_f, const Array& ln_ohm, const Array& places);

/// Two ways in which the magnitude of a ratio goes on that is continued as an impedance as well as
/// its inverse is: by the one of the two that falls outward, which levels off, and by the one that
/// rises. Slopes are those of the ratio.
struct RatioContinuations {
  Continuations falling, rising;
};
RatioContinuations continued_ratio(const Array& ln_f, const Array& ln_ratio, const Array& places);

}  // namespace ohmtilt
