#pragma once
#include <ohmtilt/chain/chain.h>

namespace ohmtilt {

/// The ideal values of a symmetric pad of characteristic resistance ohm > 0 that loses db > 0
/// between equal terminations: T, pi, bridged-T, H, O (J. O. Bird, Electrical Circuit Theory and
/// Technology, 2nd ed., ch. 41; H and O by halving the series arms). L: from an ideal source into a
/// load of ohm, holding its input at ohm. Throws InputError for a series resistor, which matches
/// nothing, and for values that are not positive.
Pad matched_pad(PadTopology topology, double ohm, double db);

}  // namespace ohmtilt
