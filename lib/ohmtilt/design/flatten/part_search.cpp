#include <ohmtilt/analysis/deviation/power_range.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/parallel.h>
#include <ohmtilt/base/simd.h>
#include <ohmtilt/design/flatten/part_search.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace ohmtilt {
namespace {

constexpr double no_change = 1e-12;         // of a ratio: rounding
constexpr std::size_t most_singles = 2000;  // branches of which all pairs are tried
constexpr int branch_steps = 6;             // of the window in which a branch's parts move together
constexpr int most_rounds = 50;

/// Real and imaginary part of rest plus 1/(ohm + j reactance), as 2 Re Y and |Y|^2.
OHMTILT_WIDE void add_branch(const double* rest_real, const double* rest_imag,
                             const double* reactance, double ohm, std::size_t from, std::size_t to,
                             double* twice_real, double* square) {
  for (std::size_t i = from; i < to; ++i) {
    const double scale = 1 / (ohm * ohm + reactance[i] * reactance[i]);
    const double real = rest_real[i] + ohm * scale;
    const double imag = rest_imag[i] - reactance[i] * scale;
    twice_real[i] = 2 * real;
    square[i] = real * real + imag * imag;
  }
}

/// The places of a grid of whole blocks so that the first block already spans the whole grid: what
/// it shows of a network is a lower limit, and most networks fail by that.
std::vector<std::size_t> spread_order(std::size_t points) {
  const std::size_t stride = (points + span_lanes - 1) / span_lanes;
  std::vector<std::size_t> order;
  for (std::size_t first = 0; first < stride; ++first)
    for (std::size_t i = first; i < stride * span_lanes; i += stride)
      order.push_back(std::min(i, points - 1));
  return order;
}

template <class Value, class Distance>
int nearest_place(const std::vector<Value>& values, Distance distance) {
  if (values.empty()) return BranchChoice::none;
  const auto closer = [&](const Value& a, const Value& b) { return distance(a) < distance(b); };
  return static_cast<int>(std::min_element(values.begin(), values.end(), closer) - values.begin());
}

int nearest_place(const std::vector<double>& values, double wanted) {
  return nearest_place(values, [&](double value) { return std::abs(std::log(value / wanted)); });
}

/// Every k-th place of a list, from the first to near the last.
std::vector<int> places(std::size_t count, std::size_t step) {
  std::vector<int> result;
  for (std::size_t i = 0; i < count; i += step) result.push_back(static_cast<int>(i));
  return result;
}

}  // namespace

double ChosenNetwork::cost_db() const { return db_from_power(power_ratio); }

PartChoices part_choices(const FlattenOptions& options) {
  PartChoices choices;
  if (options.stock) {
    choices.ohms = options.stock->ohms;
    for (const auto& coil : options.stock->coils)
      choices.coils.push_back(
          {coil.henry, coil.ohm.value_or(coil.henry * options.coil_ohm_per_henry)});
    choices.farads = options.stock->farads;
  } else {
    choices.ohms = preferred_values(options.resistors, buyable_ohm.low, buyable_ohm.high);
    for (const double henry :
         preferred_values(options.coils_and_capacitors, buyable_henry.low, buyable_henry.high))
      choices.coils.push_back({henry, henry * options.coil_ohm_per_henry});
    choices.farads =
        preferred_values(options.coils_and_capacitors, buyable_farad.low, buyable_farad.high);
  }
  const auto too_large = [&](const CoilChoice& coil) { return coil.henry > options.largest_henry; };
  std::erase_if(choices.coils, too_large);
  std::erase_if(choices.farads, [&](double farad) { return farad > options.largest_farad; });
  if (!options.coils) choices.coils.clear();
  return choices;
}

/// Real and imaginary part of an admittance over the grid.
struct PartSearch::Sum {
  std::vector<double> real, imag;
};

struct PartSearch::Window {
  std::vector<int> ohms, coils, farads;
};

struct PartSearch::Best {
  BranchChoice branch;
  double ratio = INFINITY;
};

struct PartSearch::Scratch {
  explicit Scratch(std::size_t points) : twice_real(points), square(points), reactance(points) {}
  std::vector<double> twice_real, square, reactance;
};

PartSearch::PartSearch(const FlattenGoal& goal, PartChoices choices)
    : choices_(std::move(choices)),
      largest_square_((1 + no_change) / (goal.least_ohm * goal.least_ohm)),
      sources_ohm_(sources_up_to(goal.source_ohm, goal.least_ohm)) {
  for (const std::size_t i : spread_order(static_cast<std::size_t>(goal.hz.size()))) {
    const auto at = static_cast<Eigen::Index>(i);
    const Complex siemens = 1.0 / goal.load_ohm[at];
    omega_.push_back(2 * std::numbers::pi * goal.hz[at]);
    inverse_omega_.push_back(1 / omega_.back());
    load_real_.push_back(siemens.real());
    load_imag_.push_back(siemens.imag());
  }
  ones_.assign(omega_.size(), 1);
}

/// Something has to be in a branch, and what holds coil and capacitor some resistance.
bool PartSearch::can_be_made(const BranchChoice& branch) const {
  if (branch.coil == BranchChoice::none && branch.farad == BranchChoice::none)
    return branch.ohm != BranchChoice::none;
  return ohm_of(branch) > 0 || branch.coil == BranchChoice::none ||
         branch.farad == BranchChoice::none;
}

double PartSearch::ohm_of(const BranchChoice& branch) const {
  return (branch.ohm < 0 ? 0 : choices_.ohms[static_cast<std::size_t>(branch.ohm)]) +
         (branch.coil < 0 ? 0 : choices_.coils[static_cast<std::size_t>(branch.coil)].ohm);
}

void PartSearch::set_reactance(int coil, int farad, std::vector<double>& ohm) const {
  const double henry = coil < 0 ? 0 : choices_.coils[static_cast<std::size_t>(coil)].henry;
  const double per_farad = farad < 0 ? 0 : 1 / choices_.farads[static_cast<std::size_t>(farad)];
  for (std::size_t i = 0; i < ohm.size(); ++i)
    ohm[i] = henry * omega_[i] - per_farad * inverse_omega_[i];
}

void PartSearch::add(const BranchChoice& branch, Sum& sum) const {
  std::vector<double> reactance(omega_.size());
  set_reactance(branch.coil, branch.farad, reactance);
  const double ohm = ohm_of(branch);
  for (std::size_t i = 0; i < omega_.size(); ++i) {
    const double scale = 1 / (ohm * ohm + reactance[i] * reactance[i]);
    sum.real[i] += ohm * scale;
    sum.imag[i] -= reactance[i] * scale;
  }
}

/// Load and network, but for the branches i and j.
PartSearch::Sum PartSearch::without(const ChosenNetwork& network, std::size_t i,
                                    std::size_t j) const {
  Sum sum{load_real_, load_imag_};
  for (std::size_t k = 0; k < network.branches.size(); ++k)
    if (k != i && k != j) add(network.branches[k], sum);
  return sum;
}

double PartSearch::judged_ratio(const Scratch& scratch, double give_up) const {
  const double* square = scratch.square.data();
  const std::size_t points = omega_.size();
  if (!(power_range(square, square, square, points, 0).largest <= largest_square_)) return INFINITY;
  double largest = 1;
  for (const double source : sources_ohm_) {
    const PowerRange range =
        power_range(ones_.data(), scratch.twice_real.data(), square, points, source);
    largest = std::max(largest, range.largest / range.smallest);
    if (largest > give_up) break;
  }
  return largest;
}

/// Exact where it is no more than give_up.
double PartSearch::ratio(const Sum& rest, const double* reactance, double ohm, double give_up,
                         Scratch& scratch) const {
  const auto add_points = [&](std::size_t from, std::size_t to) {
    add_branch(rest.real.data(), rest.imag.data(), reactance, ohm, from, to,
               scratch.twice_real.data(), scratch.square.data());
  };
  add_points(0, span_lanes);
  const PowerRange first = power_range(ones_.data(), scratch.twice_real.data(),
                                       scratch.square.data(), span_lanes, sources_ohm_[0]);
  if (first.largest > give_up * first.smallest) return INFINITY;
  add_points(span_lanes, omega_.size());
  return judged_ratio(scratch, give_up);
}

ChosenNetwork PartSearch::judged(std::vector<BranchChoice> branches) const {
  ChosenNetwork network{std::move(branches), 1};
  const Sum sum = without(network, network.branches.size(), network.branches.size());
  Scratch scratch(omega_.size());
  for (std::size_t i = 0; i < omega_.size(); ++i) {
    scratch.twice_real[i] = 2 * sum.real[i];
    scratch.square[i] = sum.real[i] * sum.real[i] + sum.imag[i] * sum.imag[i];
  }
  network.power_ratio = judged_ratio(scratch, INFINITY);
  return network;
}

std::optional<ChosenNetwork> PartSearch::nearest(const std::vector<FlattenBranch>& branches) const {
  std::vector<BranchChoice> chosen;
  for (const auto& branch : branches) {
    BranchChoice choice;
    if (branch.henry)
      choice.coil = nearest_place(choices_.coils, [&](const CoilChoice& coil) {
        return std::abs(std::log(coil.henry / *branch.henry));
      });
    if (branch.farad) choice.farad = nearest_place(choices_.farads, *branch.farad);
    choice.ohm = nearest_place(choices_.ohms, branch.ohm);
    if (!can_be_made(choice)) return std::nullopt;
    chosen.push_back(choice);
  }
  return judged(std::move(chosen));
}

/// The first of the best.
PartSearch::Best PartSearch::best_branch(const Sum& rest, const Window& window,
                                         double give_up) const {
  Best best{{}, give_up};
  Scratch scratch(omega_.size());
  for (const int coil : window.coils)
    for (const int farad : window.farads) {
      set_reactance(coil, farad, scratch.reactance);
      for (const int ohm : window.ohms) {
        const BranchChoice branch{ohm, coil, farad};
        if (!can_be_made(branch)) continue;
        const double found = ratio(rest, scratch.reactance.data(), ohm_of(branch),
                                   best.ratio * (1 - no_change), scratch);
        if (found < best.ratio * (1 - no_change)) best = {branch, found};
      }
    }
  return best;
}

PartSearch::Window PartSearch::around(const BranchChoice& branch, int steps, bool fewer) const {
  const auto part = [&](int place, std::size_t count) {
    std::vector<int> result;
    if (fewer || place < 0) result.push_back(BranchChoice::none);
    if (place < 0) return result;
    for (int i = std::max(0, place - steps);
         i <= std::min(static_cast<int>(count) - 1, place + steps); ++i)
      result.push_back(i);
    return result;
  };
  return {part(branch.ohm, choices_.ohms.size()), part(branch.coil, choices_.coils.size()),
          part(branch.farad, choices_.farads.size())};
}

/// All parts of a kind of branch, or every so many of the longest lists.
PartSearch::Window PartSearch::everything(bool coil, bool farad, std::size_t most) const {
  const std::size_t counts[] = {choices_.ohms.size(), coil ? choices_.coils.size() : 0,
                                farad ? choices_.farads.size() : 0};
  std::size_t steps[] = {1, 1, 1};
  const auto left = [&](std::size_t i) { return (counts[i] + steps[i] - 1) / steps[i]; };
  const auto product = [&] {
    return std::max<std::size_t>(left(0), 1) * std::max<std::size_t>(left(1), 1) *
           std::max<std::size_t>(left(2), 1);
  };
  while (product() > most) {
    std::size_t longest = 0;
    for (const std::size_t i : {1u, 2u})
      if (left(i) > left(longest)) longest = i;
    ++steps[longest];
  }
  Window window{places(counts[0], steps[0]), places(counts[1], steps[1]),
                places(counts[2], steps[2])};
  if (coil || farad) window.ohms.insert(window.ohms.begin(), BranchChoice::none);
  if (!coil) window.coils = {BranchChoice::none};
  if (!farad) window.farads = {BranchChoice::none};
  return window;
}

std::vector<BranchChoice> PartSearch::all_of(const Window& window) const {
  std::vector<BranchChoice> result;
  for (const int coil : window.coils)
    for (const int farad : window.farads)
      for (const int ohm : window.ohms)
        if (can_be_made({ohm, coil, farad})) result.push_back({ohm, coil, farad});
  return result;
}

bool PartSearch::improve_branch(ChosenNetwork& network, std::size_t i) const {
  const Best best = best_branch(
      without(network, i, i), around(network.branches[i], branch_steps, true), network.power_ratio);
  if (!(best.ratio < network.power_ratio)) return false;
  network.branches[i] = best.branch;
  network.power_ratio = best.ratio;
  return true;
}

bool PartSearch::improve_pair(ChosenNetwork& network, std::size_t i, std::size_t j,
                              int steps) const {
  const Sum rest = without(network, i, j);
  const Window second = around(network.branches[j], steps, false);
  ChosenNetwork best = network;
  for (const auto& first : all_of(around(network.branches[i], steps, false))) {
    Sum sum = rest;
    add(first, sum);
    const Best found = best_branch(sum, second, best.power_ratio);
    if (!(found.ratio < best.power_ratio)) continue;
    best.branches[i] = first;
    best.branches[j] = found.branch;
    best.power_ratio = found.ratio;
  }
  const bool better = best.power_ratio < network.power_ratio;
  network = std::move(best);
  return better;
}

ChosenNetwork PartSearch::improved(ChosenNetwork network) const {
  const std::size_t count = network.branches.size();
  const int pair_steps = count <= 2 ? 2 : 1;
  bool better = std::isfinite(network.power_ratio) || count > 0;
  for (int round = 0; better && round < most_rounds; ++round) {
    better = false;
    for (std::size_t i = 0; i < count; ++i) better |= improve_branch(network, i);
    for (std::size_t i = 0; i < count && !better; ++i)
      for (std::size_t j = i + 1; j < count && !better; ++j)
        better = improve_pair(network, i, j, pair_steps);
  }
  return network;
}

std::vector<ChosenNetwork> PartSearch::with_another(const ChosenNetwork& network,
                                                    std::size_t most) const {
  const Sum rest = without(network, network.branches.size(), network.branches.size());
  std::vector<Best> found(4);
  parallel_for(std::size_t{0}, found.size(), [&](std::size_t kind) {
    const bool coil = kind & 1, farad = kind & 2;
    if ((coil && choices_.coils.empty()) || (farad && choices_.farads.empty())) return;
    found[kind] = best_branch(rest, everything(coil, farad, most), INFINITY);
  });
  std::vector<ChosenNetwork> networks;
  for (const auto& best : found) {
    if (!std::isfinite(best.ratio)) continue;
    networks.push_back({network.branches, best.ratio});
    networks.back().branches.push_back(best.branch);
  }
  return networks;
}

std::optional<ChosenNetwork> PartSearch::best_pair() const {
  const std::size_t single =
      (choices_.ohms.size() + 1) * (choices_.coils.size() + 1) * (choices_.farads.size() + 1);
  if (single > most_singles) return std::nullopt;
  Window whole = everything(true, true, most_singles);
  whole.coils.insert(whole.coils.begin(), BranchChoice::none);
  whole.farads.insert(whole.farads.begin(), BranchChoice::none);
  const std::vector<BranchChoice> all = all_of(whole);
  std::vector<Best> found(all.size());
  parallel_for(std::size_t{0}, all.size(), [&](std::size_t i) {
    Sum sum{load_real_, load_imag_};
    add(all[i], sum);
    found[i] = best_branch(sum, whole, INFINITY);
  });
  const auto best = std::min_element(
      found.begin(), found.end(), [](const Best& a, const Best& b) { return a.ratio < b.ratio; });
  if (best == found.end() || !std::isfinite(best->ratio)) return std::nullopt;
  return ChosenNetwork{{all[static_cast<std::size_t>(best - found.begin())], best->branch},
                       best->ratio};
}

/// The network with one part less, or one branch, each readjusted.
std::vector<ChosenNetwork> PartSearch::reduced(const ChosenNetwork& network) const {
  std::vector<ChosenNetwork> result;
  const auto add_judged = [&](std::vector<BranchChoice> branches) {
    result.push_back(improved(judged(std::move(branches))));
  };
  for (std::size_t i = 0; i < network.branches.size(); ++i) {
    auto fewer = network.branches;
    fewer.erase(fewer.begin() + static_cast<std::ptrdiff_t>(i));
    add_judged(fewer);
    for (int BranchChoice::*part :
         {&BranchChoice::coil, &BranchChoice::farad, &BranchChoice::ohm}) {
      auto without_part = network.branches;
      if (without_part[i].*part == BranchChoice::none) continue;
      without_part[i].*part = BranchChoice::none;
      if (can_be_made(without_part[i])) add_judged(without_part);
    }
  }
  return result;
}

ChosenNetwork PartSearch::without_idle_parts(ChosenNetwork network, double least_worth_db,
                                             double limit_db) const {
  for (;;) {
    const bool within = network.cost_db() <= limit_db;
    const ChosenNetwork* best = nullptr;
    const auto candidates = reduced(network);
    for (const auto& candidate : candidates) {
      const bool idle = candidate.cost_db() <= network.cost_db() + least_worth_db &&
                        (!within || candidate.cost_db() <= limit_db);
      if (idle && (!best || candidate.power_ratio < best->power_ratio)) best = &candidate;
    }
    if (!best) return network;
    network = *best;
  }
}

std::vector<FlattenBranch> PartSearch::branches_of(const ChosenNetwork& network) const {
  std::vector<FlattenBranch> branches;
  for (const auto& choice : network.branches) {
    FlattenBranch branch;
    if (choice.ohm >= 0) branch.ohm = choices_.ohms[static_cast<std::size_t>(choice.ohm)];
    if (choice.coil >= 0) {
      const CoilChoice& coil = choices_.coils[static_cast<std::size_t>(choice.coil)];
      branch.henry = coil.henry;
      branch.coil_ohm = coil.ohm;
    }
    if (choice.farad >= 0) branch.farad = choices_.farads[static_cast<std::size_t>(choice.farad)];
    branches.push_back(branch);
  }
  return branches;
}

}  // namespace ohmtilt
