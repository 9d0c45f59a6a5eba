#pragma once
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/analysis/level/headroom.h>

namespace ohmtilt {

/// What a bias voltage at the output would do to the earphone; nothing without a bias. Where
/// stages, output coupling and earphone let direct current through, its size: the earphone counts
/// with its impedance at the lowest frequency at which that is known.
std::optional<std::string> bias_caution(const Chain& chain, const Earphone& earphone);

/// What can hurt ears, earphone or amplifier, one sentence each: a bias voltage, a capacitive load,
/// a target above 85 dB(A), more power than the earphone bears. drive
/// is over the whole band.
std::vector<std::string> headroom_cautions(const Chain& chain, const Earphone& earphone,
                                           const ChainDrive& drive, const Headroom& result);

}  // namespace ohmtilt
