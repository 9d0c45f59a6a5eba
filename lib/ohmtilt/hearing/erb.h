#pragma once
#include <ohmtilt/base/array.h>

namespace ohmtilt {

/// Equivalent rectangular bandwidth of the auditory filter at hz, in hertz:
/// 24.7 (4.37 f/1000 + 1) [Glasberg1990].
double erb_hz(double hz);

/// Mean of power over one ERB around each frequency: the exact integral, over linear frequency, of
/// the straight lines between the grid's values, in a rectangular window centred at each
/// frequency and cut at the grid's ends.
/// hz rises strictly; power has one value a frequency, and so has the result.
Array averaged_over_erb(const Array& hz, const Array& power);

}  // namespace ohmtilt
