#include <ohmtilt/base/constants.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/least_squares.h>
#include <ohmtilt/base/orthogonal.h>
#include <ohmtilt/base/products.h>
#include <ohmtilt/base/reciprocal.h>
#include <ohmtilt/curve/measurement_noise.h>
#include <ohmtilt/curve/minimum_phase.h>
#include <ohmtilt/model/passive_fit.h>
#include <ohmtilt/model/passive_parameters.h>
#include <ohmtilt/text/error.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace ohmtilt {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

/// What the residuals are.
enum class Fitted {
  impedance,          ///< Re and Im of the error, relative to |Z|
  modulus_and_phase,  ///< errors of ln|Z|, and of the phase as far as it could be computed
  modulus             ///< error of ln|Z|
};

/// What is fitted, at angular frequencies w.
struct Target {
  Array w;
  ComplexArray z;
  Array phase_weight;        ///< of modulus_and_phase, beside 1 for ln|Z|
  double floor_percent = 0;  ///< noise of the data: no fit can be expected to be closer
  Fitted fitted = Fitted::impedance;
  bool hold_at_bounds = false;  ///< of the steps; another way through the same search
};

/// Complex columns as real rows, each relative to the datum: Re and Im of dZ/|Z|, or the change of
/// ln|Zm| (and of the phase).
MatrixXd rows(const Target& target, const ComplexArray& model, const Eigen::ArrayXXcd& columns) {
  const Index points = target.w.size();
  if (target.fitted == Fitted::impedance) {
    const Array weight = target.z.abs().inverse();
    MatrixXd result(2 * points, columns.cols());
    result.topRows(points) = (columns.real().colwise() * weight).matrix();
    result.bottomRows(points) = (columns.imag().colwise() * weight).matrix();
    return result;
  }
  const Eigen::ArrayXXcd relative = columns.colwise() * reciprocal(model);
  if (target.fitted == Fitted::modulus) return relative.real().matrix();
  MatrixXd result(2 * points, columns.cols());
  result.topRows(points) = relative.real().matrix();
  result.bottomRows(points) = (relative.imag().colwise() * target.phase_weight).matrix();
  return result;
}

/// Datum less model, in the same rows.
VectorXd residual(const Target& target, const ComplexArray& model) {
  if (target.fitted == Fitted::modulus) return (target.z.abs() / model.abs()).log().matrix();
  VectorXd result(2 * target.w.size());
  if (target.fitted == Fitted::impedance) {
    const ComplexArray error = (target.z - model) * target.z.abs().inverse();
    result << error.real(), error.imag();
  } else {
    const ComplexArray ratio = target.z * reciprocal(model);
    result << ratio.abs().log(), ratio.arg() * target.phase_weight;
  }
  return result;
}

struct State {
  FitModel model;
  FitPoint point;  ///< of the model
  VectorXd residual;
  double squares = std::numeric_limits<double>::infinity();
};

State state_of(const Target& target, FitModel model) {
  State state;
  state.model = std::move(model);
  state.point = fit_point(state.model, target.w);
  state.residual = residual(target, state.point.z);
  const double sum = state.residual.squaredNorm();
  if (std::isfinite(sum)) state.squares = sum;
  return state;
}

/// The error of a circuit of fixed structure as a function of its parameters.
class CircuitError final : public LeastSquares {
 public:
  CircuitError(const Target& target, const FitModel& model) : target_(target), model_(model) {}
  double cost(const VectorXd& x) override {
    tried_ = state_of(target_, with_parameters(model_, x));
    return tried_.squares;
  }
  NormalEquations normal_equations(const VectorXd& /*x*/) override {
    const MatrixXd jacobian = rows(target_, tried_.point.z, tried_.point.by_parameter);
    NormalEquations equations{MatrixXd::Zero(jacobian.cols(), jacobian.cols()),
                              -(jacobian.transpose() * tried_.residual)};
    equations.square.selfadjointView<Eigen::Lower>().rankUpdate(jacobian.transpose());
    accepted_ = std::move(tried_);
    return equations;
  }
  /// The best one of all that were tried.
  State best() && {
    return tried_.squares < accepted_.squares ? std::move(tried_) : std::move(accepted_);
  }

 private:
  const Target& target_;
  const FitModel& model_;
  State tried_, accepted_;
};

/// Parameters stay where exp() and the data make sense, Q and frequencies near the band.
Bounds bounds_of(const FitModel& model, const Array& w) {
  const double low = std::log(w[0] / 4), high = std::log(w[w.size() - 1] * 4);
  FitModel least = model, most = model;
  for (std::size_t chain = 0; chain < model.chains.size(); ++chain)
    for (std::size_t i = 0; i < model.chains[chain].size(); ++i) {
      const bool lossy = model.chains[chain][i].kind == BlockKind::lossy_inductor;
      least.chains[chain][i].theta = {-32, lossy ? -3 : low, std::log(0.2)};
      most.chains[chain][i].theta = {32, lossy ? 7 : high, std::log(200.0)};
    }
  return {parameters(least), parameters(most)};
}

/// Refined by damped steps until they gain less than tolerance of the sum of squares.
State refined(const Target& target, const FitModel& model, int steps, double tolerance) {
  CircuitError error(target, model);
  DampedSteps how;
  how.steps = steps;
  how.least_gain = tolerance;
  how.longest_step = 1.5;
  how.hold_at_bounds = target.hold_at_bounds;
  minimised(error, parameters(model), bounds_of(model, target.w), how);
  return std::move(error).best();
}

/// Something that may be added: a block to a chain, or a branch.
struct Candidate {
  std::size_t chain = 0;  ///< the number of chains: a new branch
  FitChain blocks;        ///< with the size that the projection found
  double gain = 0;        ///< promised drop of the sum of squares
  ComplexArray column;    ///< dZ by the candidate's size
};

bool has(const FitChain& chain, BlockKind kind) {
  return std::any_of(chain.begin(), chain.end(),
                     [kind](const FitBlock& block) { return block.kind == kind; });
}

/// What a search may use.
struct Strategy {
  bool magnitude_first = false;  ///< grow on |Z| alone, then refine and grow on all
  bool pairs = false;            ///< use blocks of R with C or L in parallel too
};

std::vector<FitBlock> block_shapes(const FitChain& chain, bool branch, const Target& target,
                                   bool more_resonances, bool pairs) {
  std::vector<FitBlock> shapes;
  const double low = std::log(target.w[0]), high = std::log(target.w[target.w.size() - 1]);
  const auto single = [&](BlockKind kind) {
    if (!has(chain, kind)) shapes.push_back({kind, {0, 0, 0}});
  };
  single(BlockKind::resistor);
  if (branch) {
    single(BlockKind::inductor);
    single(BlockKind::capacitor);
    single(BlockKind::lossy_inductor);
    for (int i = 0; i <= 12 && pairs; ++i) {
      shapes.push_back({BlockKind::resistor_capacitor, {0, low + (high - low) * i / 12, 0}});
      shapes.push_back({BlockKind::resistor_inductor, {0, low + (high - low) * i / 12, 0}});
    }
  }
  if (!more_resonances || !branch) return shapes;
  for (int i = 0; i <= 36; ++i)
    for (const double q : {1.0, 3.0, 9.0})
      shapes.push_back({BlockKind::resonance, {0, low + (high - low) * i / 36, std::log(q)}});
  return shapes;
}

/// Scales the first parameter of a unit-size block.
FitBlock sized(FitBlock block, double size) {
  block.theta[0] += block.kind == BlockKind::capacitor ? -std::log(size) : std::log(size);
  return block;
}

void add_block_candidates(const FitModel& model, const FitPoint& point, const Target& target,
                          bool more_resonances, bool pairs, std::vector<Candidate>& all) {
  for (std::size_t chain = 0; chain < model.chains.size(); ++chain) {
    const bool branch = chain > 0;
    if (!branch && model.chains.size() < 3) continue;
    for (const FitBlock& shape :
         block_shapes(model.chains[chain], branch, target, more_resonances, pairs))
      all.push_back(
          {chain,
           {shape},
           0,
           block_impedance(shape, target.w) * point.by_chain.col(static_cast<Index>(chain))});
  }
}

/// Branches of 1 ohm in series with a capacitor, or with a capacitor and an inductor.
std::vector<FitChain> branch_shapes(const Target& target) {
  std::vector<FitChain> shapes;
  const double low = std::log(target.w[0]), high = std::log(target.w[target.w.size() - 1]);
  for (int i = 0; i <= 16; ++i) {
    const double corner = low + (high - low) * i / 16;
    shapes.push_back({{BlockKind::resistor, {0, 0, 0}}, {BlockKind::capacitor, {-corner, 0, 0}}});
    for (const double q : {0.7, 3.0})
      shapes.push_back({{BlockKind::resistor, {0, 0, 0}},
                        {BlockKind::capacitor, {-corner - std::log(q), 0, 0}},
                        {BlockKind::inductor, {-corner + std::log(q), 0, 0}}});
  }
  return shapes;
}

void add_branch_candidates(const FitModel& model, const FitPoint& point, const Target& target,
                           std::vector<Candidate>& all) {
  ComplexArray common = ComplexArray::Zero(target.w.size());
  for (const FitBlock& block : model.chains[0]) common += block_impedance(block, target.w);
  const ComplexArray parallel = point.z - common;
  for (const FitChain& shape : branch_shapes(target)) {
    ComplexArray z = ComplexArray::Zero(target.w.size());
    for (const FitBlock& block : shape) z += block_impedance(block, target.w);
    all.push_back({model.chains.size(), shape, 0, -parallel.square() * reciprocal(z)});
  }
}

/// Gains and sizes by projection on what the present parameters cannot explain.
void rate(const FitPoint& point, const Target& target, std::vector<Candidate>& all) {
  Eigen::ArrayXXcd columns(target.w.size(), all.size());
  for (std::size_t i = 0; i < all.size(); ++i) columns.col(static_cast<Index>(i)) = all[i].column;
  MatrixXd seen = rows(target, point.z, columns);
  const MatrixXd present = rows(target, point.z, point.by_parameter);
  const MatrixXd q = orthonormal_columns(present, present.cols());
  const VectorXd unexplained = residual(target, point.z);
  const VectorXd before = seen.colwise().squaredNorm();
  const MatrixXd overlap = transposed_product(q, seen);
  seen.noalias() -= q * overlap;
  for (std::size_t i = 0; i < all.size(); ++i) {
    const auto column = seen.col(static_cast<Index>(i));
    const double size = column.squaredNorm(), match = column.dot(unexplained);
    if (!(size > 1e-10 * before[static_cast<Index>(i)]) || !(match > 0)) continue;
    all[i].gain = match * match / size;
    const double amplitude = match / size;
    const bool branch = all[i].blocks.size() > 1;
    for (FitBlock& block : all[i].blocks) block = sized(block, branch ? 1 / amplitude : amplitude);
  }
}

/// The best candidates, no two of the same kind and chain next to each other in frequency.
std::vector<Candidate> best_of(std::vector<Candidate> all, std::size_t count) {
  std::sort(all.begin(), all.end(),
            [](const Candidate& x, const Candidate& y) { return x.gain > y.gain; });
  std::vector<Candidate> best;
  for (const Candidate& candidate : all) {
    if (!(candidate.gain > 0) || best.size() == count) break;
    const bool repeated = std::any_of(best.begin(), best.end(), [&](const Candidate& other) {
      return other.chain == candidate.chain && other.blocks.size() == candidate.blocks.size() &&
             other.blocks[0].kind == candidate.blocks[0].kind &&
             std::abs(other.blocks[0].theta[1] - candidate.blocks[0].theta[1]) < 0.6;
    });
    if (!repeated) best.push_back(candidate);
  }
  return best;
}

FitModel grown(FitModel model, const Candidate& candidate) {
  if (candidate.chain == model.chains.size()) {
    model.chains.push_back(candidate.blocks);
  } else {
    FitChain& chain = model.chains[candidate.chain];
    chain.insert(chain.end(), candidate.blocks.begin(), candidate.blocks.end());
  }
  return model;
}

int resonance_count(const FitModel& model) {
  int count = 0;
  for (const FitChain& chain : model.chains)
    count += static_cast<int>(std::count_if(chain.begin(), chain.end(), [](const FitBlock& b) {
      return b.kind == BlockKind::resonance;
    }));
  return count;
}

double criterion(const State& state) {
  const auto count = static_cast<double>(state.residual.size());
  return count * std::log(state.squares / count + 1e-30) +
         parameter_count(state.model) * std::log(count);
}

/// Of the impedance, or of |Z| where there is no measured phase.
double rms_percent(const Target& target, const State& state) {
  const Index points = target.w.size();
  const double squares = target.fitted == Fitted::modulus_and_phase
                             ? state.residual.head(points).squaredNorm()
                             : state.squares;
  return 100 * std::sqrt(squares / static_cast<double>(points));
}

State first_state(const Target& target) {
  const double ohm = target.z.abs().minCoeff();
  FitModel resistive{{{}, {{BlockKind::resistor, {std::log(ohm), 0, 0}}}}};
  FitModel lossy = resistive;
  lossy.chains[1].push_back({BlockKind::lossy_inductor, {std::log(ohm / 20), 0.5, 0}});
  const State simple = refined(target, resistive, 30, 1e-6),
              rising = refined(target, lossy, 30, 1e-6);
  return criterion(rising) < criterion(simple) ? rising : simple;
}

/// The model with one thing more, whichever helps most after a few steps of refinement.
State next_state(const Target& target, const State& state, const PassiveFitOptions& options,
                 const Strategy& strategy) {
  const FitPoint& point = state.point;
  std::vector<Candidate> all;
  add_block_candidates(state.model, point, target,
                       resonance_count(state.model) < options.most_resonances, strategy.pairs, all);
  if (static_cast<int>(state.model.chains.size()) - 1 < options.most_branches)
    add_branch_candidates(state.model, point, target, all);
  rate(point, target, all);
  State best = state;
  for (const Candidate& candidate : best_of(std::move(all), 6)) {
    State tried = refined(target, grown(state.model, candidate), 8, 1e-3);
    if (criterion(tried) < criterion(best)) best = std::move(tried);
  }
  return best;
}

/// How much an error of a computed phase counts beside one of ln|Z|: a third where the phase is
/// certain, less where other continuations beyond the data give another.
Array weight_of(const MinimumPhase& phase) {
  constexpr double most = 0.3, halved_rad = 0.02;
  Array spread_deg = Array::Zero(phase.phase_deg.size());
  for (const Array& other : phase.alternatives_deg)
    spread_deg = spread_deg.max((other - phase.phase_deg).abs());
  return most / (1 + spread_deg * degree / halved_rad);
}

/// Every step-th point of all.
Target thinned(const Target& all, Index most_points) {
  const Index points = all.w.size(), step = (points + most_points - 1) / most_points;
  const auto pick = Eigen::seqN(0, (points - 1) / step + 1, step);
  Target target = all;
  target.w = Array(all.w(pick));
  target.z = ComplexArray(all.z(pick));
  if (all.phase_weight.size() > 0) target.phase_weight = Array(all.phase_weight(pick));
  return target;
}

Target target_of(const ImpedanceCurve& curve) {
  Target target;
  target.w = two_pi * curve.frequency_hz();
  target.floor_percent = noise_percent(curve) * (curve.has_phase() ? std::numbers::sqrt2 : 1);
  if (curve.has_phase()) {
    target.z = curve.impedance_ohm();
    return target;
  }
  const MinimumPhase phase = minimum_phase(curve);
  target.z = curve.with_phase(phase.phase_deg).impedance_ohm();
  target.phase_weight = weight_of(phase);
  target.fitted = Fitted::modulus_and_phase;
  return target;
}

/// Errors of the model against what was fitted.
void judge(const Target& target, PassiveFit& fit) {
  const Array hz = target.w / two_pi;
  const ComplexArray ratio = evaluate(fit.model, hz) / target.z;
  const bool measured = target.fitted == Fitted::impedance;
  const Array error = measured ? Array((ratio - 1.0).abs()) : Array((ratio.abs() - 1).abs());
  Index worst = 0;
  fit.largest_error_percent = 100 * error.maxCoeff(&worst);
  fit.largest_error_hz = hz[worst];
  fit.rms_error_percent = 100 * std::sqrt(error.square().mean());
  fit.phase_error_deg = std::sqrt(ratio.arg().square().mean()) / degree;
}

struct Search {
  State state;
  PassiveFit::Stop stop = PassiveFit::Stop::not_run;
};

/// Grows a model as long as that is worth it.
Search search(const Target& target, State state, const PassiveFitOptions& options,
              const Strategy& strategy) {
  for (;;) {
    if (rms_percent(target, state) < options.enough_percent)
      return {std::move(state), PassiveFit::Stop::exact_enough};
    State next = next_state(target, state, options, strategy);
    if (!(criterion(next) < criterion(state)))
      return {std::move(state), PassiveFit::Stop::no_better_model};
    if (parameter_count(next.model) > options.largest_order)
      return {std::move(state), PassiveFit::Stop::largest_order};
    state = refined(target, std::move(next.model), 20, 1e-3);
  }
}

Search search_by(const Target& target, const PassiveFitOptions& options, const Strategy& strategy) {
  if (!strategy.magnitude_first) return search(target, first_state(target), options, strategy);
  Target modulus = target;
  modulus.fitted = Fitted::modulus;
  const Search first = search(modulus, first_state(modulus), options, strategy);
  return search(target, refined(target, first.state.model, 30, 1e-4), options, strategy);
}

FitModel without(FitModel model, std::size_t chain, std::size_t block) {
  FitChain& blocks = model.chains[chain];
  blocks.erase(blocks.begin() + static_cast<std::ptrdiff_t>(block));
  return model;
}

/// Takes away what the refitted rest does not need: a block whose loss leaves the criterion lower
/// or the model still exact enough.
State pruned(const Target& target, State state, const PassiveFitOptions& options) {
  for (std::size_t chain = 0; chain < state.model.chains.size(); ++chain)
    for (std::size_t block = state.model.chains[chain].size(); block-- > 0;) {
      if (chain > 0 && state.model.chains[chain].size() < 2) continue;
      State tried = refined(target, without(state.model, chain, block), 10, 1e-2);
      const bool exact = rms_percent(target, tried) < options.enough_percent;
      if (exact || criterion(tried) < criterion(state)) state = std::move(tried);
    }
  return state;
}

bool is_good(const Target& target, const State& state, const PassiveFitOptions& options) {
  return rms_percent(target, state) < std::max(1.1 * target.floor_percent, options.good_percent);
}

/// The best of several searches by the criterion; the next only while none is exact enough or down
/// to the noise.
Search searched(const Target& target, const PassiveFitOptions& options) {
  const Strategy strategies[] = {
      {false, false}, {false, false}, {true, true}, {true, false}, {false, true}};
  Search best;
  for (const Strategy& strategy : strategies) {
    Target held = target;
    held.hold_at_bounds = best.stop != PassiveFit::Stop::not_run;
    Search tried = search_by(held, options, strategy);
    if (best.stop == PassiveFit::Stop::not_run || criterion(tried.state) < criterion(best.state))
      best = std::move(tried);
    if (best.stop == PassiveFit::Stop::exact_enough) break;
    if (is_good(target, best.state, options)) break;
  }
  // What |Z| alone hardly shows at the band's ends still turns the phase there: keep it.
  if (target.fitted == Fitted::impedance)
    best.state = pruned(target, std::move(best.state), options);
  return best;
}

/// Where a computed phase keeps the search from |Z|, it counts less in another one.
Search searched_with_phase(Target target, const PassiveFitOptions& options) {
  Search best = searched(target, options);
  if (target.fitted == Fitted::impedance || is_good(target, best.state, options)) return best;
  target.phase_weight *= 0.3;
  Search other = searched(target, options);
  const bool better = rms_percent(target, other.state) < rms_percent(target, best.state) / 2;
  return better ? other : best;
}

}  // namespace

std::string PassiveFit::why() const {
  switch (stop) {
    case Stop::not_run:
      return "not run";
    case Stop::exact_enough:
      return "stopped: error below limit";
    case Stop::no_better_model:
      return "stopped: more parts do not pay";
    case Stop::largest_order:
      return "stopped: largest order reached";
  }
  return {};
}

bool PassiveFit::falls_short() const {
  return rms_error_percent > std::max(PassiveFitOptions{}.good_percent, 1.5 * noise_percent);
}

PassiveFit fit_passive_model(const ImpedanceCurve& curve, const PassiveFitOptions& options) {
  if (curve.points() < 8)
    throw InputError(
        "a curve of " + std::to_string(curve.points()) + " points does not determine a circuit",
        "give at least 8 points");
  const Target target = target_of(curve);
  Search best = searched_with_phase(thinned(target, 160), options);
  best.state = refined(target, best.state.model, 30, 1e-5);
  PassiveFit fit;
  fit.stop = best.stop;
  fit.model = passive_model(best.state.model);
  fit.order = parameter_count(best.state.model);
  fit.resonances = resonance_count(best.state.model);
  fit.noise_percent = target.floor_percent;
  judge(target, fit);
  return fit;
}

}  // namespace ohmtilt
