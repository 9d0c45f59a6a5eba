#include <ohmtilt/analysis/tolerance/trials.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/percentiles.h>
#include <ohmtilt/base/products.h>
#include <ohmtilt/design/tune/stage_noise.h>
#include <ohmtilt/design/tune/tune_problem.h>
#include <ohmtilt/text/error.h>

#include <algorithm>
#include <cmath>
#include <deque>

namespace ohmtilt {
namespace {

constexpr double endless = std::numeric_limits<double>::infinity();
constexpr Eigen::Index block_points = 32;
constexpr long linear_draws = 200;
constexpr Eigen::Index noise_grid_points = 61;
constexpr double limit_slack_db = 1e-9;  // rounding
enum Output : std::size_t { terminals, amplifier, emf_current, load_current };

std::size_t place_of(TuneAim aim) { return static_cast<std::size_t>(aim); }

/// The place of value in values, which gets it if it has not.
std::size_t place_in(std::vector<std::size_t>& values, std::size_t value) {
  const auto found = std::find(values.begin(), values.end(), value);
  if (found == values.end()) values.push_back(value);
  return static_cast<std::size_t>(std::find(values.begin(), values.end(), value) - values.begin());
}

std::vector<Setting> middles(const std::vector<Move>& moves) {
  std::vector<Setting> settings;
  for (const auto& move : moves) settings.push_back({std::sqrt(move.low * move.high), {}});
  return settings;
}

/// The grid so ordered that each block of it spans the whole.
std::vector<Eigen::Index> strided(Eigen::Index points) {
  const Eigen::Index stride = (points + block_points - 1) / block_points;
  std::vector<Eigen::Index> order;
  for (Eigen::Index first = 0; first < stride; ++first)
    for (Eigen::Index i = first; i < points; i += stride) order.push_back(i);
  return order;
}

double db_of(Complex value) { return db_per_neper / 2 * std::log(std::norm(value)); }

Maximum negative(const Maximum& of) { return {-of.value, -of.gradient}; }

}  // namespace

struct TuneProblem::Changes {
  std::vector<const ComplexArray*> of_term;
  std::deque<ComplexArray> own;
};

/// Extremes of what was seen so far.
struct TuneProblem::Seen {
  double level_low = endless, level_high = -endless, target = -endless;
  double ohm_low = endless, ampere = -endless, gain = endless;
};

struct TuneProblem::Gradients {
  std::vector<std::size_t> free;  // moves
  Maximum level, ohm, ampere, gain;
};

Judged judged_by(const TuneGoal& goal, const AimCosts& costs) {
  Judged result{0, costs[place_of(goal.minimise)]};
  for (const auto& limit : goal.limits) {
    const double over = costs[place_of(limit.aim)] - cost_of(limit.aim, limit.value);
    if (over > limit_slack_db) result.excess += over;
    if (!limit.least) continue;  // of a loss alone, which is known before anything else
    const double under = *limit.least - costs[place_of(limit.aim)];
    if (under > limit_slack_db) result.excess += under;
  }
  return result;
}

bool asks_for(const TuneGoal& goal, const std::optional<TuneAim>& front, TuneAim aim) {
  return goal.minimise == aim || front == aim ||
         std::any_of(goal.limits.begin(), goal.limits.end(),
                     [&](const TuneLimit& limit) { return limit.aim == aim; });
}

TuneProblem::TuneProblem(const TunedSubject& subject, const std::vector<Move>& moves,
                         const TuneOptions& options)
    : moves_(moves), whole_(whole_circuit(tuned(subject, moves, middles(moves)))) {
  for (std::size_t i = 0; i < tune_aim_count; ++i)
    asked_[i] = asks_for(options.goal, options.front, static_cast<TuneAim>(i));
  const Array grid = tune_grid(subject, options);
  points_ = grid.size();
  order_ = strided(points_);
  hz_.resize(points_ + 1);
  hz_ << grid, std::clamp(options.loss_hz, grid[0], grid[points_ - 1]);
  noise_hz_ = log_grid({grid[0], grid[points_ - 1]}, noise_grid_points);
  none_ = ComplexArray::Zero(hz_.size());
  if (asked_[place_of(TuneAim::tolerance)]) {
    DrawAxes axes;
    auto varied = varied_circuit(whole_, axes);
    if (varied.values.empty())
      throw InputError("no part has a tolerance, so that there is none to limit or minimise",
                       "give parts or pads a tolerance_percent");
    whole_ = varied.circuit;
    varied_ = varied.values;
    ToleranceOptions how;
    how.samples = linear_draws;
    how.seed = options.seed;
    const Draws draws = Draws::random(how, axes.axes());
    deviates_.resize(static_cast<Eigen::Index>(varied_.size()), draws.count());
    for (std::size_t v = 0; v < varied_.size(); ++v)
      for (Eigen::Index draw = 0; draw < draws.count(); ++draw)
        deviates_(static_cast<Eigen::Index>(v), draw) = varied_[v].relative([&](std::size_t axis) {
          return draws.deviate(draw, axis);
        }) / (varied_[v].is_squared ? 2 : 1);
  }
  parts_of_.resize(moves.size());
  for (std::size_t m = 0; m < moves.size(); ++m)
    for (const auto& value : moves[m].values)
      for (const ValueIndex at : places_in(whole_, value)) {
        const std::size_t part = place_in(parts_, at.part);
        touches_.resize(parts_.size());
        touches_[part].push_back({m, at.value});
        place_in(parts_of_[m], part);
      }
  for (const auto& varied : varied_) place_in(parts_, varied.index.part);
  touches_.resize(parts_.size());
  with_load_ =
      subject.earphone.circuit && std::any_of(parts_.begin(), parts_.end(), [&](std::size_t part) {
        return whole_.parts()[part].name.starts_with("earphone.");
      });
  const Port& ear = whole_.port("earphone");
  const Port& amp = whole_.port("amplifier");
  std::vector<ReducedOutput> outputs{
      {ear.plus, ear.minus, ""}, {amp.plus, amp.minus, ""}, {"", "", amplifier_emf}};
  if (with_load_) outputs.push_back({"", "", into_earphone});
  reduced_ = std::make_unique<ReducedCircuit>(whole_, hz_, parts_, outputs);
  const TheveninSamples from = options.from.at(hz_);
  from_ohm_ = from.output_ohm;
  from_open_ = from.open_ratio.size() > 0 ? from.open_ratio : ComplexArray::Ones(hz_.size());
  if (!with_load_) from_db_ = terminal_gain_db(from, subject.earphone.impedance.at(hz_));
  if (asked_[place_of(TuneAim::target)]) {
    if (!options.target) throw InputError("there is no target to come near", "name one");
    Band band = overlap(options.target->range(), {grid[0], grid[points_ - 1]});
    if (options.target_band) band = overlap(band, *options.target_band);
    target_db_ = Array::Constant(hz_.size(), std::nan(""));
    for (Eigen::Index f = 0; f < points_; ++f)
      if (band.contains(hz_[f])) target_db_[f] = db_of(options.target->at(hz_[f]));
    if (!(target_db_.isFinite()).any())
      throw InputError("no point of the grid lies in the target's band", "widen it");
  }
  for (std::size_t m = 0; m < moves.size(); ++m) {
    const auto only_this = [&](std::size_t part) {
      return std::all_of(touches_[part].begin(), touches_[part].end(),
                         [&](const Touch& touch) { return touch.move == m; });
    };
    alone_.push_back(std::all_of(parts_of_[m].begin(), parts_of_[m].end(), only_this));
  }
  cached_.resize(moves.size());
  for (std::size_t m = 0; m < moves.size(); ++m) {
    if (!alone_[m]) continue;
    TuneValues values{middles(moves), std::vector<int>(moves.size(), -1)};
    for (const auto& choice : moves[m].choices) {
      values.settings[m] = {choice.value, choice.ohm};
      cached_[m].emplace_back();
      for (const std::size_t part : parts_of_[m])
        for (auto& term : reduced_->change(part, part_with(part, values)))
          cached_[m].back().push_back(std::move(term));
    }
  }
}

Part TuneProblem::part_with(std::size_t reduced, const TuneValues& values) const {
  Part part = whole_.parts()[parts_[reduced]];
  for (const Touch& touch : touches_[reduced])
    part = with_setting(std::move(part), touch.value, values.settings[touch.move]);
  return part;
}

TuneProblem::Changes TuneProblem::changes(const TuneValues& values) const {
  Changes result;
  result.of_term.assign(reduced_->terms(), &none_);
  std::vector<bool> done(parts_.size(), false);
  for (std::size_t m = 0; m < moves_.size(); ++m) {
    const ComplexArray* known = nullptr;
    if (alone_[m] && values.choice[m] >= 0)
      known = cached_[m][static_cast<std::size_t>(values.choice[m])].data();
    for (const std::size_t part : parts_of_[m]) {
      if (done[part]) continue;
      done[part] = true;
      const std::size_t first = reduced_->first_term(part);
      const std::size_t last =
          part + 1 < parts_.size() ? reduced_->first_term(part + 1) : reduced_->terms();
      if (known) {
        for (std::size_t t = first; t < last; ++t) result.of_term[t] = known++;
        continue;
      }
      std::size_t t = first;
      for (auto& term : reduced_->change(part, part_with(part, values))) {
        result.own.push_back(std::move(term));
        result.of_term[t++] = &result.own.back();
      }
    }
  }
  return result;
}

TuneProblem::Levels TuneProblem::levels_of(Eigen::Index f, const Complex* output) const {
  Levels levels;
  levels.gain = db_of(output[terminals]);
  levels.ampere = db_of(output[emf_current]);
  levels.ohm = db_of(output[amplifier]) - levels.ampere;
  if (with_load_) {
    const Complex load = output[terminals] / output[load_current];
    levels.level = levels.gain - db_of(from_open_[f] * load / (load + from_ohm_[f]));
  } else {
    levels.level = levels.gain - from_db_[f];
  }
  return levels;
}

/// Of ln(terminals / reference): d ln V - d ln Z Zfrom / (Z + Zfrom) with Z = V / I.
Complex TuneProblem::level_derivative(Eigen::Index f, const Complex* output,
                                      const Complex* by) const {
  const Complex volt = by[terminals] / output[terminals];
  if (!with_load_) return volt;
  const Complex load = output[terminals] / output[load_current];
  return volt -
         (volt - by[load_current] / output[load_current]) * from_ohm_[f] / (load + from_ohm_[f]);
}

void TuneProblem::see(Eigen::Index f, const Levels& levels, Seen& seen) const {
  if (f == points_) {
    seen.gain = levels.gain;
    return;
  }
  seen.level_low = std::min(seen.level_low, levels.level);
  seen.level_high = std::max(seen.level_high, levels.level);
  seen.ohm_low = std::min(seen.ohm_low, levels.ohm);
  seen.ampere = std::max(seen.ampere, levels.ampere);
  if (target_db_.size() > 0 && std::isfinite(target_db_[f]))
    seen.target = std::max(seen.target, std::abs(levels.ohm - target_db_[f]));
}

AimCosts TuneProblem::costs_of(const Seen& seen) const {
  AimCosts costs;
  costs.fill(-endless);
  costs[place_of(TuneAim::span)] = seen.level_high - seen.level_low;
  costs[place_of(TuneAim::target)] = seen.target;
  costs[place_of(TuneAim::lowest)] = -seen.ohm_low;
  costs[place_of(TuneAim::loss)] = -seen.gain;
  costs[place_of(TuneAim::current)] = seen.ampere;
  return costs;
}

AimCosts TuneProblem::costs(const TuneGoal& goal, const TuneValues& values,
                            const Judged& give_up) const {
  const Changes changed = changes(values);
  ReducedCircuit::Workspace work;
  std::array<Complex, 4> output;
  Seen seen;
  const auto look = [&](Eigen::Index f) {
    reduced_->solve(f, changed.of_term, work, output.data());
    see(f, levels_of(f, output.data()), seen);
  };
  look(points_);
  for (Eigen::Index i = 0; i < points_; ++i) {
    look(order_[static_cast<std::size_t>(i)]);
    if ((i + 1) % block_points != 0) continue;
    const AimCosts least = costs_of(seen);
    if (give_up < judged_by(goal, least)) return least;
  }
  AimCosts result = costs_of(seen);
  if (asked_[place_of(TuneAim::noise)] && !(give_up < judged_by(goal, result)))
    result[place_of(TuneAim::noise)] = noise_cost(values);
  if (asked_[place_of(TuneAim::tolerance)] && !(give_up < judged_by(goal, result)))
    result[place_of(TuneAim::tolerance)] = tolerance_cost(values, changed);
  return result;
}

double TuneProblem::noise_cost(const TuneValues& values) const {
  CircuitDraft draft = whole_.draft();
  for (std::size_t part = 0; part < parts_.size(); ++part)
    draft.parts[parts_[part]] = part_with(part, values);
  const double volt = stage_noise_volt(Circuit(std::move(draft)), noise_hz_);
  return cost_of(TuneAim::noise, std::max(volt, 1e-15));
}

TuneProblem::TermDerivatives TuneProblem::derivatives_by_move(const TuneValues& values,
                                                              std::size_t move) const {
  TermDerivatives result;
  for (const std::size_t part : parts_of_[move]) {
    std::size_t term = reduced_->first_term(part);
    const auto scaled = [&](double factor) {
      TuneValues moved = values;
      moved.settings[move].value *= factor;
      return part_with(part, moved);
    };
    for (auto& one : reduced_->derivative(part, scaled)) result.emplace_back(term++, one);
  }
  return result;
}

TuneProblem::TermDerivatives TuneProblem::derivatives_by_varied(const TuneValues& values,
                                                                const VariedValue& varied) const {
  const auto found = std::find(parts_.begin(), parts_.end(), varied.index.part);
  const auto part = static_cast<std::size_t>(found - parts_.begin());
  const auto scaled = [&](double factor) {
    Part one = part_with(part, values);
    one.values[varied.index.value].value *= factor;
    return one;
  };
  TermDerivatives result;
  std::size_t term = reduced_->first_term(part);
  for (auto& one : reduced_->derivative(part, scaled)) result.emplace_back(term++, one);
  return result;
}

double TuneProblem::tolerance_cost(const TuneValues& values, const Changes& changed) const {
  std::vector<TermDerivatives> derivatives;
  for (const auto& varied : varied_) derivatives.push_back(derivatives_by_varied(values, varied));
  const std::size_t outputs = reduced_->outputs(), terms = reduced_->terms();
  ReducedCircuit::Workspace work;
  std::vector<Complex> output(outputs), by_term(outputs * terms), by(outputs);
  Eigen::VectorXd level(points_);
  Eigen::MatrixXd slope(points_, static_cast<Eigen::Index>(varied_.size()));
  for (Eigen::Index f = 0; f < points_; ++f) {
    reduced_->solve(f, changed.of_term, work, output.data(), by_term.data());
    level[f] = levels_of(f, output.data()).level;
    for (std::size_t v = 0; v < varied_.size(); ++v) {
      std::fill(by.begin(), by.end(), Complex());
      for (const auto& [term, derivative] : derivatives[v])
        for (std::size_t o = 0; o < outputs; ++o)
          by[o] += by_term[o * terms + term] * derivative[f];
      slope(f, static_cast<Eigen::Index>(v)) =
          db_per_neper * level_derivative(f, output.data(), by.data()).real();
    }
  }
  const Eigen::MatrixXd drawn = product(slope, deviates_).colwise() + level;
  const Array spans = drawn.colwise().maxCoeff() - drawn.colwise().minCoeff();
  return percentile(spans, 0.95);
}

TuneProblem::Gradients TuneProblem::gradients(const TuneValues& values) const {
  Gradients result;
  std::vector<TermDerivatives> derivatives;
  for (std::size_t m = 0; m < moves_.size(); ++m) {
    if (values.choice[m] >= 0) continue;
    result.free.push_back(m);
    derivatives.push_back(derivatives_by_move(values, m));
  }
  const auto free = static_cast<Eigen::Index>(result.free.size());
  for (Maximum* one : {&result.level, &result.ohm, &result.ampere})
    *one = {Eigen::VectorXd(points_), Eigen::MatrixXd(points_, free)};
  result.gain = {Eigen::VectorXd(1), Eigen::MatrixXd(1, free)};
  const Changes changed = changes(values);
  const std::size_t outputs = reduced_->outputs(), terms = reduced_->terms();
  ReducedCircuit::Workspace work;
  std::vector<Complex> output(outputs), by_term(outputs * terms), by(outputs);
  for (Eigen::Index f = 0; f <= points_; ++f) {
    reduced_->solve(f, changed.of_term, work, output.data(), by_term.data());
    const Levels levels = levels_of(f, output.data());
    const bool on_grid = f < points_;
    if (on_grid) {
      result.level.value[f] = levels.level;
      result.ohm.value[f] = levels.ohm;
      result.ampere.value[f] = levels.ampere;
    } else {
      result.gain.value[0] = levels.gain;
    }
    for (Eigen::Index m = 0; m < free; ++m) {
      std::fill(by.begin(), by.end(), Complex());
      for (const auto& [term, derivative] : derivatives[static_cast<std::size_t>(m)])
        for (std::size_t o = 0; o < outputs; ++o)
          by[o] += by_term[o * terms + term] * derivative[f];
      const double ampere = (by[emf_current] / output[emf_current]).real();
      if (on_grid) {
        result.level.gradient(f, m) =
            db_per_neper * level_derivative(f, output.data(), by.data()).real();
        result.ampere.gradient(f, m) = db_per_neper * ampere;
        result.ohm.gradient(f, m) =
            db_per_neper * ((by[amplifier] / output[amplifier]).real() - ampere);
      } else {
        result.gain.gradient(0, m) = db_per_neper * (by[terminals] / output[terminals]).real();
      }
    }
  }
  return result;
}

SumOfMaxima TuneProblem::by_differences(TuneAim aim, const TuneValues& values) const {
  constexpr double h = 1e-3;
  const auto cost = [&](const TuneValues& at) {
    return aim == TuneAim::noise ? noise_cost(at) : tolerance_cost(at, changes(at));
  };
  Maximum one{Eigen::VectorXd::Constant(1, cost(values)), {}};
  std::vector<double> slopes;
  for (std::size_t m = 0; m < moves_.size(); ++m) {
    if (values.choice[m] >= 0) continue;
    TuneValues more = values, less = values;
    more.settings[m].value *= std::exp(h);
    less.settings[m].value *= std::exp(-h);
    slopes.push_back((cost(more) - cost(less)) / (2 * h));
  }
  one.gradient =
      Eigen::Map<Eigen::RowVectorXd>(slopes.data(), static_cast<Eigen::Index>(slopes.size()));
  return {0, {one}};
}

SumOfMaxima TuneProblem::maxima_of(TuneAim aim, const TuneValues& values,
                                   const Gradients& known) const {
  switch (aim) {
    case TuneAim::span:
      return {0, {known.level, negative(known.level)}};
    case TuneAim::lowest:
      return {0, {negative(known.ohm)}};
    case TuneAim::current:
      return {0, {known.ampere}};
    case TuneAim::loss:
      return {0, {negative(known.gain)}};
    case TuneAim::target:
      break;
    case TuneAim::noise:
    case TuneAim::tolerance:
      return by_differences(aim, values);
  }
  std::vector<Eigen::Index> counted;
  for (Eigen::Index f = 0; f < points_; ++f)
    if (std::isfinite(target_db_[f])) counted.push_back(f);
  const auto rows = static_cast<Eigen::Index>(counted.size());
  Maximum both{Eigen::VectorXd(2 * rows), Eigen::MatrixXd(2 * rows, known.ohm.gradient.cols())};
  for (Eigen::Index i = 0; i < rows; ++i) {
    const Eigen::Index f = counted[static_cast<std::size_t>(i)];
    both.value[i] = known.ohm.value[f] - target_db_[f];
    both.gradient.row(i) = known.ohm.gradient.row(f);
  }
  both.value.tail(rows) = -both.value.head(rows);
  both.gradient.bottomRows(rows) = -both.gradient.topRows(rows);
  return {0, {both}};
}

MinimaxModel TuneProblem::model(const TuneGoal& goal, const TuneValues& values) const {
  const Gradients known = gradients(values);
  MinimaxModel result{maxima_of(goal.minimise, values, known), {}};
  for (const auto& limit : goal.limits) {
    result.limits.push_back(maxima_of(limit.aim, values, known));
    result.limits.back().constant -= cost_of(limit.aim, limit.value);
    if (limit.least) result.limits.push_back({*limit.least, {known.gain}});
  }
  return result;
}

}  // namespace ohmtilt
