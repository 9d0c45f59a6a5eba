#pragma once
#include <ohmtilt/design/insertion/insertion_point.h>

namespace ohmtilt {

/// What no pad of one attenuation escapes: a low output impedance costs current. One value a point,
/// by output_ohm rising. L pads of exact values lie on it; a T adds to the output impedance and a
/// pi to the current.
struct PadTradeoff {
  Array output_ohm, span_db, input_min_ohm, largest_ampere;
};

/// points >= 2, from a shunt of 1/100 of the earphone's lowest |Z| to none. Empty where no pad
/// reaches the attenuation.
PadTradeoff pad_tradeoff(const PadSite& site, double attenuation_db, Eigen::Index points = 61);

/// The series resistance in ohm that brings an L pad with this shunt to attenuation_db; nothing
/// when the shunt alone already takes more, or no resistance does up to 1e7 ohm.
std::optional<double> series_for(const PadSite& site, double shunt_ohm, double attenuation_db);

}  // namespace ohmtilt
