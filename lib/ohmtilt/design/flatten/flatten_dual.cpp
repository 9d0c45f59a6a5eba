#include <ohmtilt/base/decibel.h>
#include <ohmtilt/design/flatten/dual_network.h>
#include <ohmtilt/design/flatten/flatten_fit.h>
#include <ohmtilt/model/passive_fit.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace ohmtilt {
namespace {

/// One chain of blocks in series that follows the load.
BlockChain chain_of(const FlattenGoal& goal) {
  PassiveFitOptions how;
  how.most_branches = 1;
  how.most_resonances = 6;
  how.largest_order = 24;
  const ImpedanceCurve curve({}, goal.hz, goal.load_ohm.abs(), goal.load_ohm.arg() / degree);
  const PassiveModel model = fit_passive_model(curve, how).model;
  BlockChain chain = model.common;
  chain.insert(chain.end(), model.branches.at(0).begin(), model.branches.at(0).end());
  return chain;
}

/// A block as a coil of that reactance at the band's upper end.
double henry_at_top(const ModelBlock& block, const Array& hz) {
  const Array top = hz.tail(1);
  return evaluate(block, top)[0].imag() / (2 * std::numbers::pi * top[0]);
}

}  // namespace

std::vector<FlattenBranch> dual_branches(const FlattenGoal& goal, double ohm, std::size_t count) {
  std::vector<ParallelResonance> resonances;
  double coil_henry = 0;
  for (const ModelBlock& block : chain_of(goal)) {
    if (block.kind == BlockKind::resonance)
      resonances.push_back({block.ohm, block.henry, block.farad});
    else if (block.kind == BlockKind::inductor || block.kind == BlockKind::lossy_inductor ||
             block.kind == BlockKind::resistor_inductor)
      coil_henry += std::max(0.0, henry_at_top(block, goal.hz));
  }
  std::stable_sort(resonances.begin(), resonances.end(),
                   [](const auto& a, const auto& b) { return a.ohm > b.ohm; });
  std::vector<FlattenBranch> branches;
  const auto add = [&](const FlattenBranch& branch) {
    const bool possible = (!branch.henry || goal.henry) && (!branch.farad || goal.farad);
    if (possible && branches.size() < count) branches.push_back(branch);
  };
  const double top_ohm = 2 * std::numbers::pi * goal.hz[goal.hz.size() - 1] * coil_henry;
  if (top_ohm > ohm / 4) add({ohm, {}, 0, coil_henry / (ohm * ohm)});
  for (const auto& resonance : resonances) {
    const SeriesResonance dual = dual_of(resonance, ohm);
    add({ohm + dual.ohm, dual.henry, dual.henry * goal.coil_ohm_per_henry, dual.farad});
  }
  return branches;
}

}  // namespace ohmtilt
