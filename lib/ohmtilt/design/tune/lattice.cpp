#include <ohmtilt/base/parallel.h>
#include <ohmtilt/design/tune/lattice.h>

#include <algorithm>
#include <cmath>
#include <mutex>

namespace ohmtilt {
namespace {

constexpr double most_in_window = 6000;
constexpr int most_window_moves = 20;
constexpr long lattice_grain = 64;

double cost_in(const Candidate& candidate, TuneAim aim) {
  return candidate.costs[static_cast<std::size_t>(aim)];
}

bool comes_first(const Candidate& a, const Candidate& b) {
  if (a.judged < b.judged) return true;
  return !(b.judged < a.judged) && a.values.choice < b.values.choice;
}

/// Number as one choice a move; the last move changes fastest.
void set_choices(long number, const ChoiceLists& lists, const std::vector<Move>& moves,
                 TuneValues& values) {
  for (std::size_t m = lists.size(); m-- > 0;) {
    const auto size = static_cast<long>(lists[m].size());
    const int choice = lists[m][static_cast<std::size_t>(number % size)];
    number /= size;
    values.choice[m] = choice;
    if (choice < 0) continue;
    const ValueChoice& one = moves[m].choices[static_cast<std::size_t>(choice)];
    values.settings[m] = {one.value, one.ohm};
  }
}

/// The best that several threads have found.
class Best {
 public:
  explicit Best(Candidate first) : best_(std::move(first)) {}
  Judged judged() {
    const std::lock_guard lock(mutex_);
    return best_.judged;
  }
  void take(const Candidate& candidate) {
    const std::lock_guard lock(mutex_);
    if (comes_first(candidate, best_)) best_ = candidate;
  }
  Candidate result() { return best_; }

 private:
  std::mutex mutex_;
  Candidate best_;
};

ChoiceLists window_about(const std::vector<Move>& moves, const TuneValues& middle, int reach) {
  ChoiceLists lists;
  for (std::size_t m = 0; m < moves.size(); ++m) {
    lists.emplace_back();
    if (middle.choice[m] < 0) {
      lists.back().push_back(-1);
      continue;
    }
    const int last = static_cast<int>(moves[m].choices.size()) - 1;
    for (int i = std::max(0, middle.choice[m] - reach);
         i <= std::min(last, middle.choice[m] + reach); ++i)
      lists.back().push_back(i);
  }
  return lists;
}

/// Only moves i and j leave the middle, and further.
ChoiceLists pair_window(const std::vector<Move>& moves, const TuneValues& middle, std::size_t i,
                        std::size_t j) {
  ChoiceLists lists = window_about(moves, middle, 0);
  const ChoiceLists wide = window_about(moves, middle, 12);
  lists[i] = wide[i];
  lists[j] = wide[j];
  return lists;
}

/// How many places to each side a window of all moves may have; at least one.
int reach_of(const std::vector<Move>& moves) {
  int reach = 1;
  while (reach < 12) {
    double all = 1;
    for (const auto& move : moves)
      if (!move.choices.empty())
        all *= std::min<double>(2 * (reach + 1) + 1, static_cast<double>(move.choices.size()));
    if (all > most_in_window) break;
    ++reach;
  }
  return reach;
}

}  // namespace

void Front::add(const Candidate& candidate) {
  if (candidate.judged.excess > 0) return;
  const double a = cost_in(candidate, first_), b = cost_in(candidate, second_);
  const auto at_least_as_good = [&](const Candidate& other) {
    const double c = cost_in(other, first_), d = cost_in(other, second_);
    if (c == a && d == b) return other.values.choice <= candidate.values.choice;
    return c <= a && d <= b;
  };
  if (std::any_of(points_.begin(), points_.end(), at_least_as_good)) return;
  std::erase_if(points_, [&](const Candidate& other) {
    return cost_in(other, first_) >= a && cost_in(other, second_) >= b;
  });
  const auto place = std::lower_bound(
      points_.begin(), points_.end(), b,
      [&](const Candidate& other, double cost) { return cost_in(other, second_) < cost; });
  points_.insert(place, candidate);
}

void Front::add(const Front& other) {
  for (const auto& point : other.points_) add(point);
}

ChoiceLists all_choices(const std::vector<Move>& moves) {
  ChoiceLists lists;
  for (const auto& move : moves) {
    lists.emplace_back();
    for (std::size_t i = 0; i < move.choices.size(); ++i)
      lists.back().push_back(static_cast<int>(i));
    if (move.choices.empty()) lists.back().push_back(-1);
  }
  return lists;
}

double combinations(const ChoiceLists& lists) {
  double all = 1;
  for (const auto& list : lists) all *= static_cast<double>(list.size());
  return all;
}

Candidate candidate_of(const TuneProblem& problem, const TuneGoal& goal, TuneValues values) {
  Candidate candidate{std::move(values), {}, {}};
  candidate.costs = problem.costs(goal, candidate.values);
  candidate.judged = judged_by(goal, candidate.costs);
  return candidate;
}

Candidate best_of(const TuneProblem& problem, const TuneGoal& goal, const ChoiceLists& lists,
                  Candidate best, Front* front, const std::function<void(double)>& done) {
  const TuneValues free = best.values;
  Best found(std::move(best));
  std::mutex mutex;
  const auto work = [&](long first, long last) {
    Candidate tried{free, {}, {}};
    std::optional<Front> own;
    if (front) own = front->empty();
    for (long number = first; number < last; ++number) {
      set_choices(number, lists, problem.moves(), tried.values);
      // Points of a front may cost more than the best, but never exceed a limit.
      Judged give_up = found.judged();
      if (front) give_up = {0, std::numeric_limits<double>::infinity()};
      tried.costs = problem.costs(goal, tried.values, give_up);
      tried.judged = judged_by(goal, tried.costs);
      if (give_up < tried.judged) continue;
      if (own) own->add(tried);
      if (!(found.judged() < tried.judged)) found.take(tried);
    }
    const std::lock_guard lock(mutex);
    if (own) front->add(*own);
    if (done) done(static_cast<double>(last - first));
  };
  parallel_ranges(static_cast<long>(combinations(lists)), lattice_grain, work);
  return found.result();
}

Candidate best_nearby(const TuneProblem& problem, const TuneGoal& goal, Candidate best,
                      Front* front) {
  const auto& moves = problem.moves();
  const int reach = reach_of(moves);
  for (int round = 0; round < most_window_moves; ++round) {
    const auto before = best.values.choice;
    best = best_of(problem, goal, window_about(moves, best.values, reach), best, front, nullptr);
    if (best.values.choice != before) continue;
    for (std::size_t i = 0; i < moves.size(); ++i)
      for (std::size_t j = i + 1; j < moves.size(); ++j)
        best = best_of(problem, goal, pair_window(moves, best.values, i, j), best, front, nullptr);
    if (best.values.choice == before) break;
  }
  return best;
}

TuneValues nearest_choices(const std::vector<Move>& moves, TuneValues values) {
  for (std::size_t m = 0; m < moves.size(); ++m) {
    const auto& choices = moves[m].choices;
    if (choices.empty()) continue;
    const double wanted = std::log(values.settings[m].value);
    std::size_t nearest = 0;
    for (std::size_t i = 1; i < choices.size(); ++i)
      if (std::abs(std::log(choices[i].value) - wanted) <
          std::abs(std::log(choices[nearest].value) - wanted))
        nearest = i;
    values.choice[m] = static_cast<int>(nearest);
    values.settings[m] = {choices[nearest].value, choices[nearest].ohm};
  }
  return values;
}

}  // namespace ohmtilt
