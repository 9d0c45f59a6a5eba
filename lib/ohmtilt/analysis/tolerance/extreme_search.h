#pragma once
#include <functional>
#include <vector>

#include <ohmtilt/analysis/tolerance/trials.h>

namespace ohmtilt {

/// Works out draws: for each, take(quantity, f, values) with one value a draw. Calls may come from
/// several threads, but only one for a quantity and frequency.
using TakeDrawn = std::function<void(std::size_t quantity, Eigen::Index f, const Array& values)>;
using DrawnQuantities = std::function<void(const Draws& draws, const TakeDrawn& take)>;

struct FoundExtremes {
  std::vector<Extremes> quantities;
  WorstCaseReach reach;
};

/// The extremes of quantities over all corners of the axes, or, of more than 14, over those that a
/// search leads to: both corners of each pattern of signs that changes by one axis have anywhere,
/// then twice what one axis more changes of the best. Sets inside, seeded, come on top.
FoundExtremes extremes_over(const DrawnQuantities& drawn, std::size_t axes, std::size_t quantities,
                            Eigen::Index points);

}  // namespace ohmtilt
