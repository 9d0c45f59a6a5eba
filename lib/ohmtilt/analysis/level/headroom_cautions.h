#pragma once
#include <string>
#include <vector>

#include <ohmtilt/analysis/level/headroom.h>

namespace ohmtilt {

/// What can hurt ears, earphone or amplifier, one sentence each: a target above 85 dB(A), more
/// power than the earphone is rated for, a capacitive load. drive is over the whole band.
std::vector<std::string> headroom_cautions(const Earphone& earphone, const ChainDrive& drive,
                                           const Headroom& result);

}  // namespace ohmtilt
