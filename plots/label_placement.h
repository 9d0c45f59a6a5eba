#pragma once
#include <vector>

namespace ohmtilt::plots {

/// Heights for labels that want to stand at wanted but must be gap apart and between low and high:
/// the heights with the smallest sum of squared moves, in the order of wanted (ties keep their
/// order). Where they cannot all fit between low and high they are spread evenly.
std::vector<double> spread(const std::vector<double>& wanted, double gap, double low, double high);

}  // namespace ohmtilt::plots
