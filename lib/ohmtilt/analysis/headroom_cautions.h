#pragma once
#include <string>
#include <vector>

#include <ohmtilt/analysis/headroom.h>

namespace ohmtilt {

/// What can hurt ears, earphone or amplifier, one sentence each: a bias voltage, a capacitive load,
/// a target above 85 dB(A), more power than the earphone bears. drive is over the whole band.
std::vector<std::string> headroom_cautions(const Chain& chain, const Earphone& earphone,
                                           const Drive& drive, const Headroom& result);

}  // namespace ohmtilt
