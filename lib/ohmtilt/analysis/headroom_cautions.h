#pragma once
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/analysis/headroom.h>

namespace ohmtilt {

/// What a bias voltage at the output would do to an earphone with a path for direct current;
/// nothing without a bias. drive is over the whole band.
std::optional<std::string> bias_caution(const Chain& chain, const Earphone& earphone,
                                        const ChainDrive& drive);

/// What can hurt ears, earphone or amplifier, one sentence each: a bias voltage, a capacitive load,
/// a target above 85 dB(A), more power than the earphone bears.
std::vector<std::string> headroom_cautions(const Chain& chain, const Earphone& earphone,
                                           const ChainDrive& drive, const Headroom& result);

}  // namespace ohmtilt
