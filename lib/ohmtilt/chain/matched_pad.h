#pragma once
#include <ohmtilt/chain/chain.h>

namespace ohmtilt {

/// The ideal values of a symmetric pad of characteristic resistance ohm > 0 that loses db > 0
/// between equal terminations: T, pi, bridged-T, H, O (J. O. Bird, Electrical Circuit Theory and
/// Technology, 2nd ed., ch. 41; H and O by halving the series arms). L: from an ideal source into a
/// load of ohm, holding its input at ohm. Throws InputError for a series resistor, which matches
/// nothing, and for values that are not positive.
Pad matched_pad(PadTopology topology, double ohm, double db);

/// T or pi between unequal image resistances with a power loss of db, which has to be at least
/// minimum_loss_db. Throws InputError otherwise.
Pad matched_pad_between(PadTopology topology, double in_ohm, double out_ohm, double db);

/// The L pad that matches high_ohm to low_ohm < high_ohm at the least loss: series at the high
/// side, shunt at the low one.
Pad minimum_loss_pad(double high_ohm, double low_ohm);
/// Its power loss in dB: 20 lg (sqrt r + sqrt(r - 1)), r = high_ohm / low_ohm; 0 for equal ones.
double minimum_loss_db(double one_ohm, double other_ohm);

}  // namespace ohmtilt
