#pragma once
#include <string>
#include <vector>

#include <plots/text.h>

namespace ohmtilt::plots {

/// Names in at most limit each, by width, so that names that differ still do. Those that fit stay.
/// What all the others have in common, whole words at their start and end, goes first ("P1,
/// attenuator off" and "P1, attenuator on": "…off" and "…on"); then they lose their end, or their
/// middle, or their start, whichever leaves them different; where nothing does, their place in the
/// list stands behind them. limit is room for a few characters at least.
std::vector<std::string> shortened_apart(const std::vector<std::string>& names, double limit,
                                         Width width = width_em);

}  // namespace ohmtilt::plots
