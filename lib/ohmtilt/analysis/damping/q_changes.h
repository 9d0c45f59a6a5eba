#pragma once
#include <optional>
#include <vector>

#include <ohmtilt/analysis/damping/damping_system.h>

namespace ohmtilt {

/// The change in percent of the Q that differs most between the first source and each of the
/// others; one a source but the first, 0 where none changes, nothing where no mode lies in band.
/// Modes with a Q above 0.71 at one of the two come before those without a peak.
std::vector<std::optional<double>> largest_q_changes_percent(
    const DampingEarphone& earphone, const std::vector<DampingSource>& sources, const Band& band);

}  // namespace ohmtilt
