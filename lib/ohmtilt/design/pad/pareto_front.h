#pragma once
#include <array>
#include <cstddef>
#include <vector>

namespace ohmtilt {

/// Four things to make small.
using Costs = std::array<double, 4>;

/// The indices, rising, of all costs that no other dominates: is nowhere worse and somewhere
/// better. Equal ones stay together.
std::vector<std::size_t> pareto_front(const std::vector<Costs>& costs);

}  // namespace ohmtilt
