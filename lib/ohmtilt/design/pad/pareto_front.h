#pragma once
#include <array>
#include <cstddef>
#include <vector>

namespace ohmtilt {

/// Four things to make small.
using Costs = std::array<double, 4>;

/// True when a is nowhere worse than b and somewhere better.
bool dominates(const Costs& a, const Costs& b);

/// The indices, rising, of all costs that no other dominates. Equal ones stay together.
std::vector<std::size_t> pareto_front(const std::vector<Costs>& costs);

}  // namespace ohmtilt
