#pragma once
#include <string>
#include <vector>

#include <plots/text.h>

namespace ohmtilt::plots {

/// Names in at most limit each, by width, so that names that differ still do. Those that fit stay.
/// What the others have in common, all of them or those of one first word, goes first: whole
/// words at their start and end ("P1,
/// attenuator off" and "P1, attenuator on": "…off" and "…on"); then they lose their end, or their
/// middle, or their start, whichever leaves them different; where nothing does, their place in the
/// list stands behind them. limit is room for a few characters at least.
std::vector<std::string> shortened_apart(const std::vector<std::string>& names, double limit,
                                         Width width = width_em);

}  // namespace ohmtilt::plots
