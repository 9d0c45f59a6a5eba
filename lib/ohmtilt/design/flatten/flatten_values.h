#pragma once
// The search for the values of a flattening network; flatten.h is what others use.
#include <ohmtilt/design/flatten/flatten.h>

namespace ohmtilt {

/// From the least to the greatest value that can be had.
struct PartRange {
  double low, high;
  bool holds(double value) const { return value >= low && value <= high; }
};
inline constexpr PartRange buyable_ohm{0.1, 1e5}, buyable_henry{1e-6, 0.1},
    buyable_farad{1e-10, 1e-3};

/// What the values are judged by. A kind of part that cannot be had has no range.
struct FlattenGoal {
  Array hz;
  ComplexArray load_ohm;
  double source_ohm = 0, least_ohm = 0, coil_ohm_per_henry = 0;
  PartRange ohm = buyable_ohm;
  std::optional<PartRange> henry = buyable_henry, farad = buyable_farad;
};

/// Resistances up to largest_ohm at which a span is looked at, the largest first: between two of
/// them it hardly bends, and well below least_ohm, the lowest impedance, it falls with the source.
std::vector<double> sources_up_to(double largest_ohm, double least_ohm);
/// worst_span_db at those sources only.
double sampled_span_db(const ComplexArray& load_ohm, double source_ohm);

/// A network as a point of a search: logarithms of resistance, capacitance and inductance of each
/// branch in turn; and the values of such a point in a network of the shape of branches.
std::vector<double> network_point(const std::vector<FlattenBranch>& branches);
std::vector<FlattenBranch> network_at(const std::vector<double>& x, const FlattenGoal& goal,
                                      std::vector<FlattenBranch> branches);

/// sampled_span_db of the network, plus a steep penalty where the terminals fall below least_ohm;
/// infinite where a value cannot be had.
double flatten_cost(const FlattenGoal& goal, const std::vector<FlattenBranch>& branches);

/// A network and its flatten_cost.
struct Network {
  std::vector<FlattenBranch> branches;
  double cost = 0;
};

/// The network with one more branch, for each of several places and kinds.
std::vector<std::vector<FlattenBranch>> starts_with_another(
    const FlattenGoal& goal, const std::vector<FlattenBranch>& branches);

/// What the search makes of each start, all values free: different ones, the best first.
std::vector<Network> networks_from(const FlattenGoal& goal,
                                   const std::vector<std::vector<FlattenBranch>>& starts,
                                   std::size_t most);

}  // namespace ohmtilt
