#pragma once
#include <vector>

#include <ohmtilt/design/flatten/flatten_values.h>

namespace ohmtilt {

/// A coil that can be had, with the resistance of its winding.
struct CoilChoice {
  double henry = 0, ohm = 0;
};

/// The parts that can be had, each list rising; any may be empty.
struct PartChoices {
  std::vector<double> ohms;
  std::vector<CoilChoice> coils;
  std::vector<double> farads;
};

/// Of the stock, or of the preferred values that the options name.
PartChoices part_choices(const FlattenOptions& options);

/// Which of the parts a branch is made of, by their places in PartChoices.
struct BranchChoice {
  static constexpr int none = -1;
  int ohm = none, coil = none, farad = none;
  friend bool operator==(const BranchChoice&, const BranchChoice&) = default;
};

/// Branches, and the largest power ratio of two frequencies over all sources.
struct ChosenNetwork {
  std::vector<BranchChoice> branches;
  double power_ratio = 1;
  double cost_db() const;
};

/// Networks of parts that can be had, judged on one grid of frequencies: |1 + R/Z|^2 of a source of
/// R ohm is 1 + R (2 Re Y + R |Y|^2) of the admittance Y across the terminals, so that a network
/// costs one complex inverse per branch and frequency. Networks that pull the terminals below
/// least_ohm have an infinite ratio. Calls are independent and may come from several threads.
class PartSearch {
 public:
  PartSearch(const FlattenGoal& goal, PartChoices choices);

  ChosenNetwork judged(std::vector<BranchChoice> branches) const;
  /// Each value as near as can be had; nothing where a branch cannot be made at all.
  std::optional<ChosenNetwork> nearest(const std::vector<FlattenBranch>& branches) const;
  /// A network that no other choice of one branch (its parts together within a window of values, or
  /// fewer of them) or of two (a smaller window) betters. Never worse than it was given.
  ChosenNetwork improved(ChosenNetwork network) const;
  /// The best with one branch more, for each of the kinds of branch. Every combination is tried as
  /// long as there are no more than most, else every second, third ... value.
  std::vector<ChosenNetwork> with_another(const ChosenNetwork& network, std::size_t most) const;
  /// The best of all networks of two branches; nothing where there are more than 2000 of one.
  std::optional<ChosenNetwork> best_pair() const;
  /// The network after every part, or whole branch, is taken out that is worth less than
  /// least_worth_db, the others readjusted. What keeps limit_db goes on keeping it.
  ChosenNetwork without_idle_parts(ChosenNetwork network, double least_worth_db,
                                   double limit_db) const;
  std::vector<FlattenBranch> branches_of(const ChosenNetwork& network) const;

 private:
  struct Sum;     // of admittances
  struct Window;  // of places in the lists
  struct Best;
  struct Scratch;

  bool can_be_made(const BranchChoice& branch) const;
  double ohm_of(const BranchChoice& branch) const;
  void set_reactance(int coil, int farad, std::vector<double>& ohm) const;
  void add(const BranchChoice& branch, Sum& sum) const;
  Sum without(const ChosenNetwork& network, std::size_t i, std::size_t j) const;
  double ratio(const Sum& rest, const double* reactance, double ohm, double give_up,
               Scratch& scratch) const;
  double judged_ratio(const Scratch& scratch, double give_up) const;
  Best best_branch(const Sum& rest, const Window& window, double give_up) const;
  Window around(const BranchChoice& branch, int steps, bool fewer) const;
  Window everything(bool coil, bool farad, std::size_t most) const;
  std::vector<BranchChoice> all_of(const Window& window) const;
  bool improve_branch(ChosenNetwork& network, std::size_t i) const;
  bool improve_pair(ChosenNetwork& network, std::size_t i, std::size_t j, int steps) const;
  std::vector<ChosenNetwork> reduced(const ChosenNetwork& network) const;

  PartChoices choices_;
  double largest_square_ = 0;        // of |Y|: at least_ohm
  std::vector<double> sources_ohm_;  // the largest first
  std::vector<double> omega_, inverse_omega_, load_real_, load_imag_, ones_;
};

}  // namespace ohmtilt
