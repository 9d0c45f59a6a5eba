#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/reciprocal.h>
#include <ohmtilt/curve/measurement_noise.h>
#include <ohmtilt/model/passive_fit.h>
#include <ohmtilt/model/passive_parameters.h>
#include <ohmtilt/text/error.h>

#include <Eigen/Cholesky>
#include <Eigen/QR>
#include <algorithm>
#include <cmath>
#include <numbers>

namespace ohmtilt {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;
constexpr double two_pi = 2 * std::numbers::pi;

/// What is fitted, at angular frequencies w. z is |Z| (real) for magnitude-only data.
struct Target {
  Array w;
  ComplexArray z;
  Array weight;              ///< of the complex error in ohm, or of the error of ln|Z|
  double floor_percent = 0;  ///< noise of the data: no fit can be expected to be closer
  bool complex = true;
};

/// Complex columns as real rows, each relative to the datum: Re and Im of dZ/|Z|, or the change of
/// ln|Zm|.
MatrixXd rows(const Target& target, const ComplexArray& model, const Eigen::ArrayXXcd& columns) {
  const Index points = target.w.size();
  if (!target.complex) {
    const ComplexArray inverse = reciprocal(model);
    return ((columns.colwise() * inverse).real().colwise() * target.weight).matrix();
  }
  MatrixXd result(2 * points, columns.cols());
  result.topRows(points) = (columns.real().colwise() * target.weight).matrix();
  result.bottomRows(points) = (columns.imag().colwise() * target.weight).matrix();
  return result;
}

/// Datum less model, in the same rows.
VectorXd residual(const Target& target, const ComplexArray& model) {
  if (!target.complex)
    return ((target.z.real().log() - model.abs().log()) * target.weight).matrix();
  VectorXd result(2 * target.w.size());
  result << (target.z - model).real() * target.weight, (target.z - model).imag() * target.weight;
  return result;
}

struct State {
  FitModel model;
  FitPoint point;  ///< of the model
  VectorXd left;   ///< residual()
  double squares = 0;
};

State state_of(const Target& target, FitModel model) {
  State state{std::move(model), {}, {}, 0};
  state.point = fit_point(state.model, target.w);
  state.left = residual(target, state.point.z);
  const double sum = state.left.squaredNorm();
  state.squares = std::isfinite(sum) ? sum : 1e300;
  return state;
}

/// Parameters stay where exp() and the data make sense: within 14 of where they began in a step,
/// Q and frequencies near the band.
void keep_sensible(FitModel& model, const Target& target) {
  const double low = std::log(target.w[0] / 4), high = std::log(target.w[target.w.size() - 1] * 4);
  for (FitChain& chain : model.chains)
    for (FitBlock& block : chain) {
      block.theta[0] = std::clamp(block.theta[0], -32.0, 32.0);
      if (block.kind == BlockKind::lossy_inductor)
        block.theta[1] = std::clamp(block.theta[1], -3.0, 7.0);
      else if (parameter_count(block.kind) > 1)
        block.theta[1] = std::clamp(block.theta[1], low, high);
      if (block.kind == BlockKind::resonance)
        block.theta[2] = std::clamp(block.theta[2], std::log(0.2), std::log(200.0));
    }
}

/// Damped Gauss-Newton steps until they gain less than tolerance of the sum of squares.
State refined(const Target& target, FitModel model, int steps, double tolerance) {
  State state = state_of(target, std::move(model));
  double damping = 1e-3;
  for (int step = 0; step < steps; ++step) {
    const MatrixXd jacobian = rows(target, state.point.z, state.point.by_parameter);
    const VectorXd pull = jacobian.transpose() * state.left;
    MatrixXd normal = MatrixXd::Zero(jacobian.cols(), jacobian.cols());
    normal.selfadjointView<Eigen::Lower>().rankUpdate(jacobian.transpose());
    const double before = state.squares;
    for (int attempt = 0; attempt < 8; ++attempt) {
      MatrixXd damped = normal;
      damped.diagonal() = normal.diagonal() * (1 + damping);
      damped.diagonal().array() += 1e-12 * normal.diagonal().maxCoeff();
      VectorXd move = damped.selfadjointView<Eigen::Lower>().llt().solve(pull);
      const double longest = move.cwiseAbs().maxCoeff();
      if (longest > 1.5) move *= 1.5 / longest;
      FitModel moved = with_parameters(state.model, parameters(state.model) + move);
      keep_sensible(moved, target);
      State next = state_of(target, std::move(moved));
      if (next.squares < state.squares) {
        state = std::move(next);
        damping = std::max(damping / 5, 1e-9);
        break;
      }
      damping *= 6;
    }
    if (!(before - state.squares > tolerance * before)) break;
  }
  return state;
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
  const Eigen::HouseholderQR<MatrixXd> qr(present);
  const MatrixXd q = qr.householderQ() * MatrixXd::Identity(present.rows(), present.cols());
  const VectorXd left = residual(target, point.z);
  const VectorXd before = seen.colwise().squaredNorm();
  const MatrixXd overlap = q.transpose() * seen;
  seen.noalias() -= q * overlap;
  for (std::size_t i = 0; i < all.size(); ++i) {
    const auto column = seen.col(static_cast<Index>(i));
    const double size = column.squaredNorm(), match = column.dot(left);
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

double criterion(const Target& target, const State& state) {
  const double rows_count = static_cast<double>(target.w.size()) * (target.complex ? 2 : 1);
  return rows_count * std::log(state.squares / rows_count + 1e-30) +
         parameter_count(state.model) * std::log(rows_count);
}

double rms_of(const Target& target, const State& state) {
  return std::sqrt(state.squares / static_cast<double>(target.w.size()));
}

State first_state(const Target& target) {
  const double ohm = target.z.abs().minCoeff();
  FitModel resistive{{{}, {{BlockKind::resistor, {std::log(ohm), 0, 0}}}}};
  FitModel lossy = resistive;
  lossy.chains[1].push_back({BlockKind::lossy_inductor, {std::log(ohm / 20), 0.5, 0}});
  const State simple = refined(target, resistive, 30, 1e-6),
              rising = refined(target, lossy, 30, 1e-6);
  return criterion(target, rising) < criterion(target, simple) ? rising : simple;
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
    if (criterion(target, tried) < criterion(target, best)) best = std::move(tried);
  }
  return best;
}

/// ln|Z| at one end of the data continued along its slope, as points of small weight: a passive
/// curve's phase near an end is owed to what |Z| does beyond it, which |Z| within hardly tells.
void continue_beyond(Target& target, bool above) {
  constexpr double weight_an_octave = 3e-3;
  constexpr int points = 12;  // six an octave
  const Index count = target.w.size(), near = std::min<Index>(count, 8);
  const Array ln_w = (above ? target.w.tail(near) : target.w.head(near)).log();
  const ComplexArray part = above ? target.z.tail(near) : target.z.head(near);
  const Array ln_z = part.abs().log();
  const Array centred = ln_w - ln_w.mean();
  const double slope =
      std::clamp((centred * (ln_z - ln_z.mean())).sum() / centred.square().sum(), -1.0, 1.0);
  const double end_w = above ? ln_w[near - 1] : ln_w[0];
  const double end_z = ln_z.mean() + slope * (end_w - ln_w.mean());
  target.w.conservativeResize(count + points);
  target.z.conservativeResize(count + points);
  target.weight.conservativeResize(count + points);
  for (int i = 0; i < points; ++i) {
    const double octaves = (i + 1) / 6.0, step = (above ? 1 : -1) * octaves * std::numbers::ln2;
    target.w[count + i] = std::exp(end_w + step);
    target.z[count + i] = std::exp(end_z + slope * step);
    target.weight[count + i] = weight_an_octave / octaves;
  }
}

Target target_of(const ImpedanceCurve& curve, Index most_points) {
  const Index step = (curve.points() + most_points - 1) / most_points;
  const Index count = (curve.points() - 1) / step + 1;
  const auto pick = Eigen::seqN(0, count, step);
  Target target;
  target.w = two_pi * curve.frequency_hz()(pick);
  target.complex = curve.has_phase();
  target.floor_percent = noise_percent(curve) * (target.complex ? std::numbers::sqrt2 : 1);
  const Array magnitude = curve.magnitude_ohm()(pick);
  if (target.complex) {
    target.z = curve.impedance_ohm()(pick);
    target.weight = magnitude.inverse();
    return target;
  }
  target.z = magnitude.cast<Complex>();
  target.weight = Array::Ones(count);
  const Target data = target;
  continue_beyond(target, true);
  Target below = data;
  continue_beyond(below, false);
  const Index extra = below.w.size() - count;
  const auto join = [extra](auto& all, const auto& more) {
    auto joined = all;
    joined.resize(all.size() + extra);
    joined << more.tail(extra), all;
    all = joined;
  };
  join(target.w, below.w);
  join(target.z, below.z);
  join(target.weight, below.weight);
  return target;
}

void judge(const ImpedanceCurve& curve, PassiveFit& fit) {
  const ComplexArray z = evaluate(fit.model, curve.frequency_hz());
  const Array& size = curve.magnitude_ohm();
  const Array error = curve.has_phase() ? Array((z - curve.impedance_ohm()).abs() / size)
                                        : Array((z.abs() - size).abs() / size);
  Index worst = 0;
  fit.largest_error_percent = 100 * error.maxCoeff(&worst);
  fit.largest_error_hz = curve.frequency_hz()[worst];
  fit.rms_error_percent = 100 * std::sqrt(error.square().mean());
  if (!curve.has_phase()) return;
  const Array turn = (z / curve.impedance_ohm()).arg() / degree;
  fit.phase_error_deg = std::sqrt(turn.square().mean());
}

struct Search {
  State state;
  PassiveFit::Stop stop = PassiveFit::Stop::not_run;
};

/// Grows a model as long as that is worth it.
Search search(const Target& target, State state, const PassiveFitOptions& options,
              const Strategy& strategy) {
  for (;;) {
    if (100 * rms_of(target, state) < options.enough_percent)
      return {std::move(state), PassiveFit::Stop::exact_enough};
    State next = next_state(target, state, options, strategy);
    if (!(criterion(target, next) < criterion(target, state)))
      return {std::move(state), PassiveFit::Stop::no_better_model};
    if (parameter_count(next.model) > options.largest_order)
      return {std::move(state), PassiveFit::Stop::largest_order};
    state = refined(target, std::move(next.model), 20, 1e-3);
  }
}

Search search_by(const Target& target, const PassiveFitOptions& options, const Strategy& strategy) {
  if (!strategy.magnitude_first || !target.complex)
    return search(target, first_state(target), options, strategy);
  Target modulus = target;
  modulus.complex = false;
  modulus.z = target.z.abs().cast<Complex>();
  modulus.weight.setOnes();
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
      const bool exact = 100 * rms_of(target, tried) < options.enough_percent;
      if (exact || criterion(target, tried) < criterion(target, state)) state = std::move(tried);
    }
  return state;
}

/// The best of several searches by the criterion; the next only while none is exact enough or down
/// to the noise.
Search searched(const Target& target, const PassiveFitOptions& options) {
  const Strategy strategies[] = {{false, false}, {true, true}, {true, false}, {false, true}};
  Search best;
  for (const Strategy& strategy : strategies) {
    Search tried = search_by(target, options, strategy);
    if (best.stop == PassiveFit::Stop::not_run ||
        criterion(target, tried.state) < criterion(target, best.state))
      best = std::move(tried);
    if (best.stop == PassiveFit::Stop::exact_enough) break;
    const double rms_percent = 100 * rms_of(target, best.state);
    if (rms_percent < std::max(1.1 * target.floor_percent, options.good_percent)) break;
  }
  // What |Z| alone hardly shows at the band's ends still turns the phase there: keep it.
  if (target.complex) best.state = pruned(target, std::move(best.state), options);
  return best;
}

}  // namespace

std::string PassiveFit::why() const {
  switch (stop) {
    case Stop::not_run:
      return "not run";
    case Stop::exact_enough:
      return "the error is small enough";
    case Stop::no_better_model:
      return "no further part is worth its values";
    case Stop::largest_order:
      return "the largest order is reached";
  }
  return {};
}

PassiveFit fit_passive_model(const ImpedanceCurve& curve, const PassiveFitOptions& options) {
  if (curve.points() < 8)
    throw InputError(
        "a curve of " + std::to_string(curve.points()) + " points does not determine a circuit",
        "give at least 8 points");
  const Target coarse = target_of(curve, 160), fine = target_of(curve, curve.points());
  Search best = searched(coarse, options);
  best.state = refined(fine, std::move(best.state.model), 30, 1e-5);
  PassiveFit fit;
  fit.stop = best.stop;
  fit.model = passive_model(best.state.model);
  fit.order = parameter_count(best.state.model);
  fit.resonances = resonance_count(best.state.model);
  judge(curve, fit);
  return fit;
}

PassiveModel refine_passive_model(const PassiveModel& model, const Array& hz,
                                  const ComplexArray& samples_ohm,
                                  const PassiveRefineOptions& options) {
  if (hz.size() != samples_ohm.size() || model.branches.empty())
    throw InputError("the samples do not belong to the model",
                     "give one sample a frequency, and a model with a branch");
  Target target{two_pi * hz, samples_ohm, samples_ohm.abs().inverse(), 0, true};
  if (options.weight == PassiveRefineOptions::Weight::none) target.weight.setOnes();
  return passive_model(refined(target, fit_model(model), options.steps, 1e-14).model);
}

}  // namespace ohmtilt
