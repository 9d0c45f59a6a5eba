#pragma once
// The search for the values of a flattening network; flatten.h is what others use.
#include <ohmtilt/design/flatten.h>

namespace ohmtilt {

/// What the values are judged by.
struct FlattenGoal {
  Array hz;
  ComplexArray load_ohm;
  double source_ohm = 0, least_ohm = 0, coil_ohm_per_henry = 0;
};

/// worst_span_db of the network, plus a steep penalty where the terminals fall below least_ohm or
/// a value is beyond what can be bought (0.1 ohm to 100 kohm, 1 uH to 100 mH, 100 pF to 1 mF).
double flatten_cost(const FlattenGoal& goal, const std::vector<FlattenBranch>& branches);

/// The best network with one more branch than given, all values free.
std::vector<FlattenBranch> with_another_branch(const FlattenGoal& goal,
                                               const std::vector<FlattenBranch>& branches);

/// The same with preferred values: the nearest, then single values moved while it gets better.
std::vector<FlattenBranch> with_preferred_values(const FlattenGoal& goal,
                                                 std::vector<FlattenBranch> branches,
                                                 Series resistors, Series coils_and_capacitors);

}  // namespace ohmtilt
