#pragma once
// What a direct voltage at a source's output means for the earphone behind it.
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/chain/earphone.h>
#include <ohmtilt/chain/thevenin_source.h>

namespace ohmtilt {

/// How far a bias may be from the one that a driver needs, in percent: common practice, no source.
inline constexpr double bias_tolerance_percent = 10;

/// What the source's bias voltage does to the earphone, or its lack to a driver that needs one;
/// nothing where there is neither. Where stages, output coupling and earphone let direct current
/// through, its size: an earphone that does not say whether it blocks it counts with its impedance
/// at the lowest frequency at which that is known. A number or a curve as source states no bias.
std::optional<std::string> bias_caution(const TheveninSource& source, const Earphone& earphone);

/// The same of several sources, each once and by its name where there are several.
std::vector<std::string> bias_cautions(const std::vector<TheveninSource>& sources,
                                       const Earphone& earphone);

/// "the output carries 2.5 V of bias", where no earphone is known; nothing without a
/// bias.
std::optional<std::string> bias_note(const TheveninSource& source);

}  // namespace ohmtilt
