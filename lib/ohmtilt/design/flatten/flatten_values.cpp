#include <ohmtilt/analysis/deviation/span.h>
#include <ohmtilt/base/parallel.h>
#include <ohmtilt/design/flatten/direct_search.h>
#include <ohmtilt/design/flatten/flatten_fit.h>
#include <ohmtilt/design/flatten/flatten_values.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace ohmtilt {
namespace {

/// Decibels of penalty for terminals at 1/e of what they may fall to.
constexpr double penalty_db = 300;

bool can_be_had(const FlattenGoal& goal, const FlattenBranch& branch) {
  const auto holds = [](const std::optional<PartRange>& range, const auto& value) {
    return !value || (range && range->holds(*value));
  };
  return goal.ohm.holds(branch.ohm) && holds(goal.henry, branch.henry) &&
         holds(goal.farad, branch.farad);
}

std::vector<FlattenBranch> searched(const FlattenGoal& goal,
                                    const std::vector<FlattenBranch>& start, double last_step) {
  const auto cost = [&](const std::vector<double>& x) {
    return flatten_cost(goal, network_at(x, goal, start));
  };
  DirectSearchOptions how;
  how.last_step = last_step;
  return network_at(direct_search(cost, network_point(start), how).x, goal, start);
}

/// Which parts a branch begins with, and the Q of the dual of a resonance.
struct Kind {
  bool coil, capacitor;
  double q;
};
constexpr Kind kinds[] = {{false, false, 1}, {true, false, 1}, {false, true, 1},
                          {true, true, 0.3}, {true, true, 1},  {true, true, 3}};

/// A branch that takes |Z| at hz down to target_ohm.
FlattenBranch first_guess(double hz, double peak_ohm, double target_ohm, const Kind& kind) {
  const double omega = 2 * std::numbers::pi * hz;
  FlattenBranch branch;
  branch.ohm = std::max(0.2, 1 / std::max(1e-5, 1 / target_ohm - 1 / peak_ohm));
  if (kind.capacitor) branch.farad = 1 / (kind.q * branch.ohm * omega);
  if (kind.coil) branch.henry = kind.q * branch.ohm / omega;
  return branch;
}

/// With values that can be had.
FlattenBranch within(const FlattenGoal& goal, FlattenBranch branch) {
  const auto clamp = [](double& value, const PartRange& range) {
    value = std::clamp(value, range.low, range.high);
  };
  clamp(branch.ohm, goal.ohm);
  if (branch.henry) clamp(*branch.henry, *goal.henry);
  if (branch.farad) clamp(*branch.farad, *goal.farad);
  return branch;
}

/// The highest points of |Z| that are local maxima or ends of the band, the highest first.
std::vector<Eigen::Index> peaks(const Array& ohm) {
  std::vector<Eigen::Index> found;
  const Eigen::Index last = ohm.size() - 1;
  for (Eigen::Index i = 0; i <= last; ++i)
    if ((i == 0 || ohm[i] >= ohm[i - 1]) && (i == last || ohm[i] > ohm[i + 1])) found.push_back(i);
  std::sort(found.begin(), found.end(),
            [&](Eigen::Index a, Eigen::Index b) { return ohm[a] > ohm[b]; });
  found.resize(std::min<std::size_t>(found.size(), 3));
  return found;
}

}  // namespace

std::vector<double> sources_up_to(double largest_ohm, double least_ohm) {
  std::vector<double> sources;
  const double end = std::min(largest_ohm, least_ohm) / 10;
  for (double ohm = largest_ohm; ohm > end; ohm /= 1.6) sources.push_back(ohm);
  return sources;
}

double sampled_span_db(const ComplexArray& load_ohm, double source_ohm) {
  const SpanOverResistance span(load_ohm, {ComplexArray::Zero(load_ohm.size()), {}});
  double largest = 0;
  for (const double ohm : sources_up_to(source_ohm, load_ohm.abs().minCoeff()))
    largest = std::max(largest, span.span_db(ohm));
  return largest;
}

std::vector<double> network_point(const std::vector<FlattenBranch>& branches) {
  std::vector<double> x;
  for (const auto& branch : branches) {
    x.push_back(std::log(branch.ohm));
    if (branch.farad) x.push_back(std::log(*branch.farad));
    if (branch.henry) x.push_back(std::log(*branch.henry));
  }
  return x;
}

std::vector<FlattenBranch> network_at(const std::vector<double>& x, const FlattenGoal& goal,
                                      std::vector<FlattenBranch> branches) {
  std::size_t i = 0;
  for (auto& branch : branches) {
    branch.ohm = std::exp(x[i++]);
    if (branch.farad) branch.farad = std::exp(x[i++]);
    if (branch.henry) branch.henry = std::exp(x[i++]);
    branch.coil_ohm = branch.henry.value_or(0) * goal.coil_ohm_per_henry;
  }
  return branches;
}

double flatten_cost(const FlattenGoal& goal, const std::vector<FlattenBranch>& branches) {
  const auto can_be = [&](const FlattenBranch& branch) { return can_be_had(goal, branch); };
  if (!std::all_of(branches.begin(), branches.end(), can_be)) return INFINITY;
  const ComplexArray ohm = flattened_ohm(goal.load_ohm, branches, goal.hz);
  const double lowest = ohm.abs().minCoeff();
  const double below = lowest < goal.least_ohm ? std::log(goal.least_ohm / lowest) : 0;
  return sampled_span_db(ohm, goal.source_ohm) + penalty_db * below;
}

std::vector<std::vector<FlattenBranch>> starts_with_another(
    const FlattenGoal& goal, const std::vector<FlattenBranch>& branches) {
  const Array ohm = flattened_ohm(goal.load_ohm, branches, goal.hz).abs();
  const double target_ohm = std::max(goal.least_ohm, ohm.minCoeff() * 1.1);
  std::vector<std::vector<FlattenBranch>> starts;
  for (const Eigen::Index peak : peaks(ohm))
    for (const Kind& kind : kinds) {
      if ((kind.coil && !goal.henry) || (kind.capacitor && !goal.farad)) continue;
      starts.push_back(branches);
      starts.back().push_back(
          within(goal, first_guess(goal.hz[peak], ohm[peak], target_ohm, kind)));
    }
  return starts;
}

std::vector<Network> networks_from(const FlattenGoal& goal,
                                   const std::vector<std::vector<FlattenBranch>>& starts,
                                   std::size_t most) {
  std::vector<Network> networks(starts.size());
  parallel_for(std::size_t{0}, starts.size(), [&](std::size_t i) {
    const auto fitted = fitted_branches(goal, searched(goal, starts[i], 0.12));
    const auto branches = searched(goal, fitted, 0.02);
    networks[i] = {branches, flatten_cost(goal, branches)};
  });
  std::stable_sort(networks.begin(), networks.end(),
                   [](const Network& a, const Network& b) { return a.cost < b.cost; });
  // Starts that led to the same place count once.
  const auto same = [](const Network& a, const Network& b) {
    return std::abs(a.cost - b.cost) < 1e-3 * b.cost;
  };
  networks.erase(std::unique(networks.begin(), networks.end(), same), networks.end());
  networks.resize(std::min(networks.size(), most));
  for (auto& network : networks) {
    network.branches = searched(goal, network.branches, 0.003);
    network.cost = flatten_cost(goal, network.branches);
  }
  return networks;
}

}  // namespace ohmtilt
