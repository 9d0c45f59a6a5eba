#pragma once
// Values that can be had, all moves together.
#include <functional>
#include <vector>

#include <ohmtilt/design/tune/tune_problem.h>

namespace ohmtilt {

/// Values and what they cost.
struct Candidate {
  TuneValues values;
  AimCosts costs{};
  Judged judged;
};

/// Candidates within the limits of which no other is better in both of two costs; of equal ones the
/// first in the order of their choices.
class Front {
 public:
  Front(TuneAim first, TuneAim second) : first_(first), second_(second) {}
  void add(const Candidate& candidate);
  void add(const Front& other);
  Front empty() const { return {first_, second_}; }  ///< of the same costs
  /// Rising in the second cost.
  const std::vector<Candidate>& points() const { return points_; }

 private:
  TuneAim first_, second_;
  std::vector<Candidate> points_;
};

/// What the choices of the moves are, for the moves that have some: places in Move::choices.
using ChoiceLists = std::vector<std::vector<int>>;

/// All of each move's; one entry of -1 for a move that is free.
ChoiceLists all_choices(const std::vector<Move>& moves);
double combinations(const ChoiceLists& lists);

/// The best of best and of all combinations of the lists, the free moves as they are in best;
/// feasible ones go to front where there is one. done counts combinations.
Candidate best_of(const TuneProblem& problem, const TuneGoal& goal, const ChoiceLists& lists,
                  Candidate best, Front* front, const std::function<void(double)>& done);

/// As best_of, over a window about best that follows it until its middle is the best.
Candidate best_nearby(const TuneProblem& problem, const TuneGoal& goal, Candidate best,
                      Front* front);

/// Each free value of the moves with choices made the nearest one.
TuneValues nearest_choices(const std::vector<Move>& moves, TuneValues values);

Candidate candidate_of(const TuneProblem& problem, const TuneGoal& goal, TuneValues values);

}  // namespace ohmtilt
