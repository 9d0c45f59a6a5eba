#pragma once
#include <ohmtilt/design/flatten/flatten_values.h>

namespace ohmtilt {

/// The network with all values moved together so that the largest distance of the deviation from
/// its middle becomes small: damped least squares (Levenberg and Marquardt) of a power of that
/// distance, which is raised from 2 to 32 in turns (a p-norm nears the largest value as p grows).
/// The floor and what can be bought are steep terms of the same sum. Shapes of branches are kept.
std::vector<FlattenBranch> fitted_branches(const FlattenGoal& goal,
                                           const std::vector<FlattenBranch>& start);

/// The dual network of the chain of parallel resonances, coil and resistance that follows the load
/// best, brought into branches across it: one a resonance, the strongest first, and one of a
/// resistor and a capacitor for the coil. ohm: the resistance the terminals should have.
/// At most count branches; fewer where the model has no more.
std::vector<FlattenBranch> dual_branches(const FlattenGoal& goal, double ohm, std::size_t count);

}  // namespace ohmtilt
