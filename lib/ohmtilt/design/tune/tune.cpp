#include <ohmtilt/analysis/tolerance/tolerance.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/parallel.h>
#include <ohmtilt/base/random.h>
#include <ohmtilt/design/tune/lattice.h>
#include <ohmtilt/design/tune/stage_noise.h>
#include <ohmtilt/design/tune/tune.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
#include <atomic>
#include <cmath>
#include <mutex>

namespace ohmtilt {
namespace {

constexpr std::size_t most_moves = 12;
constexpr double most_enumerated = 300000;
constexpr std::size_t descents = 16;     // of the starts that look best
constexpr std::size_t kept_minima = 8;   // about which choices are sought
constexpr std::size_t front_steps = 11;  // where a front is not enumerated
constexpr double same_minimum = 1e-3;    // in ln of every value

void check_tuning(const std::vector<Move>& moves, const TuneOptions& options) {
  if (moves.empty()) throw InputError("no value may move", "say which, and from where to where");
  if (moves.size() > most_moves)
    throw InputError(std::to_string(moves.size()) + " values are more than can move together",
                     "let at most 12 move");
  if (options.points < 16 || options.points > 20000)
    throw InputError(std::to_string(options.points) + " points are not allowed",
                     "give 16 to 20000");
  for (const auto& limit : options.goal.limits)
    if (limit.least && (limit.aim != TuneAim::loss || !(*limit.least < limit.value)))
      throw InputError("only a loss can be limited from both sides",
                       "give loss=LO-HI, the lower first");
  for (const auto& move : moves)
    if (!(move.low > 0 && move.low < move.high && std::isfinite(move.high)))
      throw InputError("the range of \"" + printable(move.name, 60) + "\" is not one",
                       "give LO-HI, both above 0");
}

Bounds bounds_of(const std::vector<Move>& moves) {
  const auto size = static_cast<Eigen::Index>(moves.size());
  Bounds bounds{Eigen::VectorXd(size), Eigen::VectorXd(size)};
  for (Eigen::Index m = 0; m < size; ++m) {
    bounds.low[m] = std::log(moves[static_cast<std::size_t>(m)].low);
    bounds.high[m] = std::log(moves[static_cast<std::size_t>(m)].high);
  }
  return bounds;
}

/// Tells how much is done of a work whose parts take their turns.
class Told {
 public:
  explicit Told(const std::function<void(double)>& tell) : tell_(tell) {}
  /// The next part takes the work from here to that share of the whole.
  void begin(double until) {
    from_ = until_;
    until_ = until;
    tell(0);
  }
  void tell(double part) {
    if (!tell_) return;
    const std::unique_lock lock(mutex_, std::try_to_lock);
    if (lock) tell_(from_ + (until_ - from_) * std::min(part, 1.0));
  }

 private:
  const std::function<void(double)>& tell_;
  std::mutex mutex_;
  double from_ = 0, until_ = 0;
};

class Tuner {
 public:
  Tuner(const TunedSubject& subject, const std::vector<Move>& moves, const TuneOptions& options)
      : moves_(moves),
        options_(options),
        problem_(subject, moves, options),
        bounds_(bounds_of(moves)),
        told_(options.progress) {}

  /// The best, and the front where one is asked for.
  void run(Tuning& result) {
    const ChoiceLists lists = all_choices(moves_);
    const bool some_free = std::any_of(moves_.begin(), moves_.end(),
                                       [](const Move& move) { return move.choices.empty(); });
    enumerated_ = !some_free && ohmtilt::combinations(lists) <= most_enumerated;
    result.complete = enumerated_;
    result.combinations = some_free ? 0 : ohmtilt::combinations(lists);
    told_.begin(options_.front ? 0.1 : 0.3);
    const auto minima = free_minima(options_.goal, starts());
    told_.begin(options_.front ? 0.5 : 1);
    const Candidate best = found(options_.goal, minima, lists, nullptr);
    result.settings = best.values.settings;
    result.within_limits = best.judged.excess == 0;
    if (options_.front) trace_front(minima, lists, best, result);
    told_.begin(1);
  }

 private:
  TuneValues values_at(const Eigen::VectorXd& ln_x) const {
    TuneValues values{{}, std::vector<int>(moves_.size(), -1)};
    for (Eigen::Index m = 0; m < ln_x.size(); ++m)
      values.settings.push_back({std::exp(ln_x[m]), std::nullopt});
    return values;
  }

  /// The values of the files, the middle of the ranges, and seeded places.
  std::vector<Eigen::VectorXd> starts() const {
    const Eigen::VectorXd low = bounds_.low, size = bounds_.high - bounds_.low;
    std::vector<Eigen::VectorXd> found{low + size / 2};
    Eigen::VectorXd given(low.size());
    for (Eigen::Index m = 0; m < low.size(); ++m) {
      const double value = moves_[static_cast<std::size_t>(m)].values[0].value;
      given[m] = value > 0 ? std::clamp(std::log(value), low[m], bounds_.high[m]) : low[m];
    }
    found.push_back(given);
    const std::uint64_t count = 64 + 48 * moves_.size();
    for (std::uint64_t draw = 0; draw < count; ++draw) {
      Eigen::VectorXd x(low.size());
      for (Eigen::Index m = 0; m < low.size(); ++m)
        x[m] = low[m] +
               size[m] * uniform_number({options_.seed, draw, static_cast<std::uint64_t>(m), 0});
      found.push_back(std::move(x));
    }
    return found;
  }

  Candidate judged_at(const TuneGoal& goal, const Eigen::VectorXd& x) const {
    return candidate_of(problem_, goal, values_at(x));
  }

  /// Different local minima of the values as free numbers, the best first.
  std::vector<Eigen::VectorXd> free_minima(const TuneGoal& goal,
                                           std::vector<Eigen::VectorXd> from) {
    std::vector<Judged> judged(from.size());
    parallel_for(std::size_t{0}, from.size(),
                 [&](std::size_t i) { judged[i] = judged_at(goal, from[i]).judged; });
    sort_by(judged, from);
    // The files' own values always have a descent.
    if (from.size() > descents) from.resize(descents);
    judged.resize(from.size());
    std::atomic<std::size_t> done = 0;
    parallel_for(std::size_t{0}, from.size(), [&](std::size_t i) {
      const auto at = [&](const Eigen::VectorXd& x) { return problem_.model(goal, values_at(x)); };
      const Eigen::VectorXd x = minimax(at, from[i], bounds_);
      const Judged after = judged_at(goal, x).judged;
      if (after < judged[i]) {
        from[i] = x;
        judged[i] = after;
      }
      told_.tell(static_cast<double>(++done) / static_cast<double>(from.size()));
    });
    sort_by(judged, from);
    std::vector<Eigen::VectorXd> different;
    for (const auto& x : from)
      if (std::none_of(different.begin(), different.end(), [&](const Eigen::VectorXd& other) {
            return (x - other).cwiseAbs().maxCoeff() < same_minimum;
          }))
        different.push_back(x);
    if (different.size() > kept_minima) different.resize(kept_minima);
    return different;
  }

  static void sort_by(std::vector<Judged>& judged, std::vector<Eigen::VectorXd>& points) {
    std::vector<std::size_t> order(judged.size());
    for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
    std::stable_sort(order.begin(), order.end(),
                     [&](std::size_t a, std::size_t b) { return judged[a] < judged[b]; });
    std::vector<Judged> sorted;
    std::vector<Eigen::VectorXd> sorted_points;
    for (const std::size_t i : order) {
      sorted.push_back(judged[i]);
      sorted_points.push_back(points[i]);
    }
    judged = std::move(sorted);
    points = std::move(sorted_points);
  }

  /// The free values of a candidate moved to their nearest minimum, the others kept.
  Candidate with_free_moved(const TuneGoal& goal, const Candidate& candidate) const {
    std::vector<std::size_t> free;
    for (std::size_t m = 0; m < moves_.size(); ++m)
      if (candidate.values.choice[m] < 0) free.push_back(m);
    if (free.empty()) return candidate;
    const auto size = static_cast<Eigen::Index>(free.size());
    Bounds bounds{Eigen::VectorXd(size), Eigen::VectorXd(size)};
    Eigen::VectorXd x(size);
    for (Eigen::Index i = 0; i < size; ++i) {
      const auto m = static_cast<Eigen::Index>(free[static_cast<std::size_t>(i)]);
      bounds.low[i] = bounds_.low[m];
      bounds.high[i] = bounds_.high[m];
      x[i] = std::log(candidate.values.settings[static_cast<std::size_t>(m)].value);
    }
    const auto values_of = [&](const Eigen::VectorXd& at) {
      TuneValues values = candidate.values;
      for (Eigen::Index i = 0; i < size; ++i)
        values.settings[free[static_cast<std::size_t>(i)]] = {std::exp(at[i]), std::nullopt};
      return values;
    };
    x = minimax([&](const Eigen::VectorXd& at) { return problem_.model(goal, values_of(at)); }, x,
                bounds);
    const Candidate moved = candidate_of(problem_, goal, values_of(x));
    return moved.judged < candidate.judged ? moved : candidate;
  }

  /// The best that the choices give.
  Candidate found(const TuneGoal& goal, const std::vector<Eigen::VectorXd>& minima,
                  const ChoiceLists& lists, Front* front) {
    std::vector<Candidate> rounded;
    for (const auto& x : minima)
      rounded.push_back(candidate_of(problem_, goal, nearest_choices(moves_, values_at(x))));
    const auto less = [](const Candidate& a, const Candidate& b) { return a.judged < b.judged; };
    Candidate best = *std::min_element(rounded.begin(), rounded.end(), less);
    if (enumerated_) {
      std::atomic<double> done = 0;
      return best_of(problem_, goal, lists, best, front, [&](double count) {
        double before = done.load();
        while (!done.compare_exchange_weak(before, before + count)) {
        }
        told_.tell((before + count) / ohmtilt::combinations(lists));
      });
    }
    for (std::size_t i = 0; i < rounded.size(); ++i) {
      Candidate one = with_free_moved(goal, rounded[i]);
      for (int round = 0; round < 4; ++round) {
        const Judged before = one.judged;
        one = with_free_moved(goal, best_nearby(problem_, goal, one, front));
        if (!(one.judged < before)) break;
      }
      if (one.judged < best.judged) best = one;
      told_.tell(static_cast<double>(i + 1) / static_cast<double>(rounded.size()));
    }
    return best;
  }

  TunePoint point_of(const Candidate& candidate) const {
    const auto value = [&](TuneAim aim) {
      return value_of(aim, candidate.costs[static_cast<std::size_t>(aim)]);
    };
    return {candidate.values.settings, value(options_.goal.minimise), value(*options_.front)};
  }

  void trace_front(const std::vector<Eigen::VectorXd>& minima, const ChoiceLists& lists,
                   const Candidate& best, Tuning& result) {
    Front front(options_.goal.minimise, *options_.front);
    front.add(best);
    told_.begin(1);
    if (enumerated_)
      found(options_.goal, minima, lists, &front);
    else
      trace_by_limits(minima, lists, best, front);
    for (const auto& point : front.points()) result.front.push_back(point_of(point));
  }

  /// From the least of the traded cost to where the minimised one is least, the former limited.
  void trace_by_limits(const std::vector<Eigen::VectorXd>& minima, const ChoiceLists& lists,
                       const Candidate& best, Front& front) {
    const TuneAim traded = *options_.front;
    TuneGoal other = options_.goal;
    other.minimise = traded;
    const auto cost = [&](const Candidate& candidate) {
      return candidate.costs[static_cast<std::size_t>(traded)];
    };
    auto from = minima;
    const auto others = free_minima(other, starts());
    const Candidate end = found(other, others, lists, &front);
    front.add(end);
    from.insert(from.end(), others.begin(), others.end());
    for (std::size_t i = 1; i + 1 < front_steps; ++i) {
      const double share = static_cast<double>(i) / static_cast<double>(front_steps - 1);
      TuneGoal limited = options_.goal;
      limited.limits.push_back(
          {traded, value_of(traded, cost(end) + share * (cost(best) - cost(end)))});
      const auto between = free_minima(limited, from);
      front.add(found(limited, between, lists, &front));
      from.push_back(between.front());
      told_.tell(share);
    }
  }

  const std::vector<Move>& moves_;
  const TuneOptions& options_;
  TuneProblem problem_;
  Bounds bounds_;
  Told told_;
  bool enumerated_ = false;
};

double target_difference_db(const TuneOptions& options, const Array& hz, const Array& input_ohm) {
  Band band = overlap(options.target->range(), {hz[0], hz[hz.size() - 1]});
  if (options.target_band) band = overlap(band, *options.target_band);
  double most = std::nan("");
  for (Eigen::Index f = 0; f < hz.size(); ++f) {
    if (!band.contains(hz[f])) continue;
    const double db =
        std::abs(db_from_amplitude(input_ohm[f] / std::abs(options.target->at(hz[f]))));
    most = std::isnan(most) ? db : std::max(most, db);
  }
  return most;
}

std::optional<double> drawn_span_db(const TunedSubject& subject, const TuneOptions& options,
                                    const DeviationGrid& grid, const ComplexArray& load_ohm,
                                    const TheveninSource& to) {
  const bool circuit_varies = subject.earphone.circuit && has_tolerances(*subject.earphone.circuit);
  if (!circuit_varies && !has_tolerances(to) && !has_tolerances(options.from)) return std::nullopt;
  TolerancedComparison comparison{grid, load_ohm, {}, options.from, to};
  if (circuit_varies) comparison.circuit = subject.earphone.circuit;
  ToleranceOptions how;
  how.samples = options.samples;
  how.seed = options.seed;
  return deviation_tolerance(comparison, how).span_db.p95;
}

}  // namespace

Array tune_grid(const TunedSubject& subject, const TuneOptions& options) {
  const Band known =
      overlap(subject.earphone.impedance.range(),
              overlap(thevenin_source(subject.chain).output.range(), options.from.output.range()));
  return log_grid(overlap(options.band, known), options.points);
}

TuneFigures tune_figures(const TunedSubject& subject, const TuneOptions& options) {
  const TheveninSource to = thevenin_source(subject.chain);
  const Array hz = tune_grid(subject, options);
  const double loss_hz = std::clamp(options.loss_hz, hz[0], hz[hz.size() - 1]);
  const DeviationGrid grid{hz, Array::Constant(1, loss_hz), AnchorFrequency{loss_hz}};
  const Array all = grid.all_hz();
  const ComplexArray load = subject.earphone.impedance.at(all);
  const TheveninSamples samples = to.at(all);
  TuneFigures figures;
  const Deviation found = deviation(grid, load, options.from.at(all), samples);
  const ComplexArray input = input_ohm(subject.chain, subject.earphone.impedance, hz);
  const ComplexArray own = thevenin_source(subject.chain.with_stages({})).output.at(hz);
  figures.deviation_db = found.deviation_db;
  figures.input_ohm = input.abs();
  const auto set = [&](TuneAim aim, double value) {
    figures.value[static_cast<std::size_t>(aim)] = value;
  };
  set(TuneAim::span, found.span_db);
  set(TuneAim::target,
      options.target ? target_difference_db(options, hz, figures.input_ohm) : std::nan(""));
  set(TuneAim::lowest, figures.input_ohm.minCoeff());
  set(TuneAim::loss, -terminal_gain_db(samples, load)[hz.size()]);
  set(TuneAim::current, (own + input).abs().inverse().maxCoeff());
  set(TuneAim::noise,
      stage_noise_volt(whole_circuit(subject), log_grid({hz[0], hz[hz.size() - 1]}, 480)));
  set(TuneAim::tolerance, drawn_span_db(subject, options, grid, load, to).value_or(std::nan("")));
  return figures;
}

Tuning tune(const TunedSubject& subject, const std::vector<Move>& moves,
            const TuneOptions& options) {
  check_tuning(moves, options);
  if (options.front == options.goal.minimise)
    throw InputError("a front trades one aim for another",
                     "name another one than " + std::string(to_string(options.goal.minimise)));
  Tuning result{tune_grid(subject, options),
                {},
                tune_figures(subject, options),
                {},
                false,
                false,
                0,
                {},
                subject,
                {}};
  Tuner(subject, moves, options).run(result);
  result.tuned = tuned(subject, moves, result.settings);
  result.after = tune_figures(result.tuned, options);
  if (options.target) {
    result.target_ohm = Array::Constant(result.hz.size(), std::nan(""));
    Band band = overlap(options.target->range(), options.band);
    if (options.target_band) band = overlap(band, *options.target_band);
    for (Eigen::Index f = 0; f < result.hz.size(); ++f)
      if (band.contains(result.hz[f]))
        result.target_ohm[f] = std::abs(options.target->at(result.hz[f]));
  }
  return result;
}

}  // namespace ohmtilt
