#include <ohmtilt/base/decibel.h>
#include <ohmtilt/circuit/dense_solve.h>
#include <ohmtilt/circuit/elimination.h>
#include <ohmtilt/circuit/nodal_system.h>
#include <ohmtilt/circuit/part_rules.h>
#include <ohmtilt/circuit/quoted_name.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>
#include <numeric>
#include <optional>
#include <utility>

namespace ohmtilt {
namespace {

constexpr int width = Lane::width;
constexpr double accepted_error = 1e-14;

struct PlacedStamp {
  int place, term;
  double sign;
};

// Several stamps may meet at one place. Those of term 0 are the same at every frequency and for
// all values of parts.
struct PlacedStamps {
  Pattern pattern;
  std::vector<PlacedStamp> constant, varying;
  std::vector<int> varying_places;
};

PlacedStamps placed(const Equations& equations) {
  PlacedStamps result;
  result.pattern.size = equations.size();
  std::map<std::pair<int, int>, int> known;
  for (const Stamp& stamp : equations.stamps) {
    const int next = static_cast<int>(result.pattern.places.size());
    const auto [at, added] = known.emplace(std::pair(stamp.row, stamp.column), next);
    if (added) result.pattern.places.push_back({stamp.row, stamp.column});
    const PlacedStamp found{at->second, stamp.term, stamp.sign};
    (stamp.term == 0 ? result.constant : result.varying).push_back(found);
    if (stamp.term != 0) result.varying_places.push_back(found.place);
  }
  auto& places = result.varying_places;
  std::sort(places.begin(), places.end());
  places.erase(std::unique(places.begin(), places.end()), places.end());
  return result;
}

using Reals = std::array<double, width>;

inline void add_scaled(Lane& __restrict target, const Lane& __restrict term, double scale) {
  for (int t = 0; t < width; ++t) {
    target.re[t] += scale * term.re[t];
    target.im[t] += scale * term.im[t];
  }
}

inline void add_magnitude(Reals& __restrict sum, const Lane& __restrict lane) {
  for (int t = 0; t < width; ++t) sum[t] += std::abs(lane.re[t]) + std::abs(lane.im[t]);
}

// b -= a x, and its magnitude is added to sum.
inline void subtract_product(Lane& __restrict b, Reals& __restrict sum, const Lane& __restrict a,
                             const Lane& __restrict x) {
  for (int t = 0; t < width; ++t) {
    b.re[t] -= a.re[t] * x.re[t] - a.im[t] * x.im[t];
    b.im[t] -= a.re[t] * x.im[t] + a.im[t] * x.re[t];
    sum[t] += (std::abs(a.re[t]) + std::abs(a.im[t])) * (std::abs(x.re[t]) + std::abs(x.im[t]));
  }
}

OHMTILT_WIDE void add_stamps(const std::vector<PlacedStamp>& stamps, const Lane* terms,
                             std::vector<Lane>& matrix) {
  for (const PlacedStamp& stamp : stamps)
    add_scaled(matrix[stamp.place], terms[stamp.term], stamp.sign);
}

OHMTILT_WIDE void add_row_sums(const Pattern& pattern, const std::vector<Lane>& matrix,
                               std::vector<Reals>& sums) {
  std::fill(sums.begin(), sums.end(), Reals{});
  for (std::size_t i = 0; i < pattern.places.size(); ++i)
    add_magnitude(sums[pattern.places[i].row], matrix[i]);
}

// b becomes b - A x (or A^T x), sums |b| + |A| |x|, row by row.
OHMTILT_WIDE void subtract_rows(const Pattern& pattern, bool transposed,
                                const std::vector<Lane>& matrix, const std::vector<Lane>& x,
                                std::vector<Lane>& b, std::vector<Reals>& sums) {
  std::fill(sums.begin(), sums.end(), Reals{});
  for (std::size_t i = 0; i < b.size(); ++i) add_magnitude(sums[i], b[i]);
  for (std::size_t p = 0; p < pattern.places.size(); ++p) {
    const auto [first, second] = pattern.places[p];
    const int row = transposed ? second : first, column = transposed ? first : second;
    subtract_product(b[row], sums[row], matrix[p], x[column]);
  }
}

inline void count_above(Reals& __restrict count, const Lane& __restrict residual,
                        const Reals& __restrict sum) {
  for (int t = 0; t < width; ++t)
    count[t] +=
        std::abs(residual.re[t]) + std::abs(residual.im[t]) <= accepted_error * sum[t] ? 0. : 1.;
}

// Counts the rows whose residual is above what is accepted (or is not a number).
OHMTILT_WIDE Reals rows_above(const std::vector<Lane>& residuals, const std::vector<Reals>& sums) {
  Reals count{};
  for (std::size_t i = 0; i < residuals.size(); ++i) count_above(count, residuals[i], sums[i]);
  return count;
}

}  // namespace

struct NodalSystem::State {
  Array hz;
  ComplexArray s;  // empty on the frequency axis
  Equations equations;
  std::vector<Part> parts;
  std::vector<std::vector<std::size_t>> elements_of_part;
  PlacedStamps stamps;
  std::vector<Lane> terms;  // block after block
  std::optional<Elimination> elimination;

  int blocks() const { return static_cast<int>((hz.size() + width - 1) / width); }
  Lane& term(int block, int index) {
    return terms[static_cast<std::size_t>(block) * equations.terms + index];
  }
  const Lane& term(int block, int index) const {
    return terms[static_cast<std::size_t>(block) * equations.terms + index];
  }
  int used(int block) const {
    return static_cast<int>(std::min<Eigen::Index>(width, hz.size() - block * width));
  }

  void store_term(int index, const ComplexArray& values) {
    for (int block = 0; block < blocks(); ++block) {
      Lane& lane = term(block, index);
      const int known = used(block);
      for (int t = 0; t < width; ++t) {
        // The last block is filled up with its last frequency.
        const Complex value = values[block * width + std::min(t, known - 1)];
        lane.re[t] = value.real();
        lane.im[t] = value.imag();
      }
    }
  }

  /// All numbers, at the frequencies that hold now.
  void fill() {
    terms.resize(static_cast<std::size_t>(blocks() * equations.terms));
    store_term(0, ComplexArray::Ones(hz.size()));
    for (std::size_t part = 0; part < parts.size(); ++part) update_part(part);
  }

  void update_part(std::size_t part) {
    const auto elementary = expanded(parts[part]);
    const auto& elements = elements_of_part[part];
    bool same = elementary.size() == elements.size();
    for (std::size_t i = 0; same && i < elements.size(); ++i)
      same = equations.elements[elements[i]].kind == elementary[i].kind;
    if (!same)
      throw InputError(
          "part " + quoted_name(parts[part].name) + " cannot gain or lose elementary parts here",
          "make a new circuit for that value");
    for (std::size_t i = 0; i < elements.size(); ++i)
      store_element(equations.elements[elements[i]], elementary[i]);
  }

  void store_element(const Element& element, const Part& elementary) {
    const auto found = s.size() > 0 ? terms_off_axis(elementary, element.by_branch, s)
                                    : terms_of(elementary, element.by_branch, hz);
    for (std::size_t i = 0; i < found.size(); ++i) {
      if (!found[i].allFinite()) refuse_infinity(elementary, found[i]);
      store_term(element.first_term + static_cast<int>(i), found[i]);
    }
  }

  [[noreturn]] void refuse_infinity(const Part& elementary, const ComplexArray& values) const {
    Eigen::Index f = 0;
    while (std::isfinite(values[f].real()) && std::isfinite(values[f].imag())) ++f;
    throw InputError("part " + quoted_name(elementary.name) + " has no finite value at " +
                         number_text(hz[f]) + " Hz",
                     "check its values");
  }

  Eigen::MatrixXcd dense(int block, int t) const {
    Eigen::MatrixXcd matrix = Eigen::MatrixXcd::Zero(equations.size(), equations.size());
    for (const Stamp& stamp : equations.stamps) {
      const Lane& value = term(block, stamp.term);
      matrix(stamp.row, stamp.column) += stamp.sign * Complex(value.re[t], value.im[t]);
    }
    return matrix;
  }

  // Low, middle and high frequency stand for all when the order of elimination is chosen.
  std::vector<Eigen::MatrixXcd> samples() const {
    const Eigen::Index last = hz.size() - 1;
    std::vector<Eigen::MatrixXcd> result;
    for (const Eigen::Index at : {Eigen::Index{0}, last / 2, last})
      result.push_back(dense(static_cast<int>(at / width), static_cast<int>(at % width)));
    return result;
  }
};

namespace {

// Solves one block of frequencies; its vectors are the working memory of all blocks.
template <class State>
class BlockSolver {
 public:
  BlockSolver(const State& state, const std::vector<RightHandSide>& sides,
              const std::vector<Unknown>& wanted)
      : state_(state),
        sides_(sides),
        wanted_(wanted),
        size_(static_cast<std::size_t>(state.equations.size())),
        constant_(state.elimination->places()),
        factors_(state.elimination->places()),
        row_sum_(size_),
        residual_sum_(size_),
        b_(size_),
        x_(size_),
        correction_(size_) {
    const Lane one = state.term(0, 0);
    add_stamps(state.stamps.constant, &one, constant_);
    matrix_ = constant_;
    for (std::size_t s = 0; s < sides.size(); ++s)
      results_.emplace_back(state.hz.size(), static_cast<Eigen::Index>(wanted.size()));
  }

  void run(int block) {
    assemble(block);
    weak_.fill(0);
    factors_ = matrix_;
    state_.elimination->factor(factors_, row_sum_, weak_);
    for (std::size_t s = 0; s < sides_.size(); ++s) run_side(block, s);
    for (int t = 0; t < state_.used(block); ++t)
      if (weak_[t] > 0) solve_with_pivoting(block, t);
  }

  std::vector<Solution> take() { return std::move(results_); }

 private:
  void assemble(int block) {
    for (const int place : state_.stamps.varying_places) matrix_[place] = constant_[place];
    add_stamps(state_.stamps.varying, &state_.term(block, 0), matrix_);
    add_row_sums(state_.stamps.pattern, matrix_, row_sum_);
  }

  void fill_side(const RightHandSide& side) {
    for (std::size_t i = 0; i < size_; ++i) {
      b_[i].re.fill(side.values[static_cast<Eigen::Index>(i)].real());
      b_[i].im.fill(side.values[static_cast<Eigen::Index>(i)].imag());
    }
  }

  void run_side(int block, std::size_t s) {
    const RightHandSide& side = sides_[s];
    fill_side(side);
    solve_factored(side.transposed, x_);
    // Refinement in working precision brings the componentwise error down [Skeel1980].
    for (int step = 0; step < 3 && !is_exact(side); ++step) {
      solve_factored(side.transposed, correction_);
      add_correction();
    }
    for (int t = 0; t < width; ++t) weak_[t] += inexact_[t];
    store(block, results_[s]);
  }

  void store(int block, Solution& result) const {
    const int used = state_.used(block);
    for (std::size_t i = 0; i < wanted_.size(); ++i) {
      static const Lane zero;
      const Lane& lane = wanted_[i] == reference_node ? zero : x_[wanted_[i]];
      Complex* to = &result(block * width, static_cast<Eigen::Index>(i));
      for (int t = 0; t < used; ++t) to[t] = {lane.re[t], lane.im[t]};
    }
  }

  void solve_factored(bool transposed, std::vector<Lane>& x) {
    if (transposed)
      state_.elimination->solve_transposed(factors_, b_, x);
    else
      state_.elimination->solve(factors_, b_, x);
  }

  void add_correction() {
    for (std::size_t i = 0; i < size_; ++i)
      for (int t = 0; t < width; ++t) {
        x_[i].re[t] += correction_[i].re[t];
        x_[i].im[t] += correction_[i].im[t];
      }
  }

  // |b - A x| against |A| |x| + |b|, row by row (1-norm of complex numbers); b becomes b - A x.
  bool is_exact(const RightHandSide& side) {
    fill_side(side);
    subtract_rows(state_.stamps.pattern, side.transposed, matrix_, x_, b_, residual_sum_);
    inexact_ = rows_above(b_, residual_sum_);
    return std::all_of(inexact_.begin(), inexact_.end(), [](double count) { return count == 0; });
  }

  void solve_with_pivoting(int block, int t) {
    const Eigen::MatrixXcd matrix = state_.dense(block, t);
    std::vector<DenseSide> sides;
    for (const auto& side : sides_) sides.push_back({side.values, side.transposed});
    const auto found = solve_dense(matrix, sides);
    const Eigen::Index f = block * width + t;
    if (!found) {
      const auto loose = static_cast<std::size_t>(loose_unknown(matrix));
      throw InputError(
          "the circuit has no solution at " + number_text(state_.hz[f]) +
              " Hz: " + state_.equations.unknown_names[loose] + " is left undetermined there",
          "look for a resonance without loss or parts that cancel, and give it a resistance");
    }
    for (std::size_t s = 0; s < sides.size(); ++s)
      for (std::size_t i = 0; i < wanted_.size(); ++i)
        results_[s](f, static_cast<Eigen::Index>(i)) =
            wanted_[i] == reference_node ? 0.0 : (*found)[s][wanted_[i]];
  }

  const State& state_;
  const std::vector<RightHandSide>& sides_;
  const std::vector<Unknown>& wanted_;
  std::size_t size_;
  std::vector<Lane> constant_, matrix_, factors_;
  std::vector<Reals> row_sum_, residual_sum_;
  std::vector<Lane> b_, x_, correction_;
  Reals weak_{}, inexact_{};  // more than 0: this frequency needs row pivoting
  std::vector<Solution> results_;
};

void check_frequencies(const Array& hz) {
  if (hz.size() == 0) throw InputError("no frequency is given", "give at least one");
  for (const double f : hz)
    if (!(f >= 1e-9 && f <= 1e12))
      throw InputError(number_text(f) + " Hz is no frequency to solve a circuit at",
                       "use 1e-9 to 1e12 Hz");
}

}  // namespace

NodalSystem::NodalSystem(const Circuit& circuit, const Array& hz)
    : NodalSystem(circuit, std::make_unique<State>(State{hz, {}, {}, {}, {}, {}, {}, {}})) {}

NodalSystem NodalSystem::off_axis(const Circuit& circuit, const ComplexArray& s) {
  const Array hz = s.abs() / (2 * std::numbers::pi);
  return {circuit, std::make_unique<State>(State{hz, s, {}, {}, {}, {}, {}, {}})};
}

NodalSystem::NodalSystem(const Circuit& circuit, std::unique_ptr<State> state)
    : state_(std::move(state)) {
  const Array& hz = state_->hz;
  check_frequencies(hz);
  state_->equations = equations_of(circuit, hz);
  state_->parts = circuit.parts();
  state_->elements_of_part.resize(circuit.parts().size());
  for (std::size_t e = 0; e < state_->equations.elements.size(); ++e)
    state_->elements_of_part[state_->equations.elements[e].part].push_back(e);
  state_->stamps = placed(state_->equations);
  state_->fill();
  state_->elimination.emplace(state_->stamps.pattern, state_->samples());
}

void NodalSystem::set_off_axis(const ComplexArray& s) {
  const Array hz = s.abs() / (2 * std::numbers::pi);
  check_frequencies(hz);
  state_->hz = hz;
  state_->s = s;
  state_->fill();
}

NodalSystem::~NodalSystem() = default;
NodalSystem::NodalSystem(const NodalSystem& other)
    : state_(std::make_unique<State>(*other.state_)) {}
NodalSystem::NodalSystem(NodalSystem&&) noexcept = default;

const Array& NodalSystem::hz() const { return state_->hz; }
const Equations& NodalSystem::equations() const { return state_->equations; }
const std::vector<Part>& NodalSystem::parts() const { return state_->parts; }

void NodalSystem::set_value(ValueIndex index, double value) { set_values({{index, value}}); }

void NodalSystem::set_values(const std::vector<NewValue>& values) {
  for (auto next = values.begin(); next != values.end();) {
    Part& part = state_->parts.at(next->index.part);
    const Part before = part;
    const std::size_t at = next->index.part;
    for (; next != values.end() && next->index.part == at; ++next)
      part.values.at(next->index.value).value = next->value;
    try {
      const auto faults = part_faults(part);
      if (!faults.empty())
        throw InputError(
            "part " + quoted_name(part.name) + ": `" + faults[0].key + "` " + faults[0].wrong,
            faults[0].remedy);
      state_->update_part(at);
    } catch (const InputError&) {
      part = before;
      throw;
    }
  }
}

ComplexArray NodalSystem::term(int term) const {
  ComplexArray result(state_->hz.size());
  for (Eigen::Index f = 0; f < result.size(); ++f) {
    const Lane& lane = std::as_const(*state_).term(static_cast<int>(f / width), term);
    result[f] = {lane.re[f % width], lane.im[f % width]};
  }
  return result;
}

std::vector<Solution> NodalSystem::solve(const std::vector<RightHandSide>& sides,
                                         const std::vector<Unknown>& wanted) const {
  BlockSolver solver(std::as_const(*state_), sides, wanted);
  for (int block = 0; block < state_->blocks(); ++block) solver.run(block);
  return solver.take();
}

std::vector<Solution> NodalSystem::solve(const std::vector<RightHandSide>& sides) const {
  std::vector<Unknown> all(static_cast<std::size_t>(state_->equations.size()));
  std::iota(all.begin(), all.end(), 0);
  return solve(sides, all);
}

Solution NodalSystem::solve(const RightHandSide& side) const {
  return std::move(solve(std::vector<RightHandSide>{side}).front());
}

RightHandSide port_current(const Equations& equations, const Port& port, bool transposed) {
  RightHandSide side{Eigen::VectorXcd::Zero(equations.size()), transposed};
  const Unknown plus = equations.node(port.plus), minus = equations.node(port.minus);
  if (plus >= 0) side.values[plus] += 1;
  if (minus >= 0) side.values[minus] -= 1;
  return side;
}

Complex source_phasor(const Part& source) {
  const char* key = source.kind == PartKind::voltage_source ? "volt" : "ampere";
  return std::polar(source.value(key), source.value_or("phase_deg", 0) * degree);
}

RightHandSide own_sources(const Equations& equations, const std::vector<Part>& parts) {
  RightHandSide side{Eigen::VectorXcd::Zero(equations.size()), false};
  for (const Element& element : equations.elements) {
    const Part& part = parts[element.part];
    if (element.kind == PartKind::voltage_source) side.values[element.branch] = source_phasor(part);
    if (element.kind != PartKind::current_source) continue;
    const Complex ampere = source_phasor(part);
    if (element.nodes[0] >= 0) side.values[element.nodes[0]] -= ampere;
    if (element.nodes[1] >= 0) side.values[element.nodes[1]] += ampere;
  }
  return side;
}

ComplexArray unknown_of(const Solution& solution, Unknown unknown) {
  if (unknown == reference_node) return ComplexArray::Zero(solution.rows());
  return solution.col(unknown);
}

ComplexArray port_volt(const Equations& equations, const Port& port, const Solution& solution) {
  return unknown_of(solution, equations.node(port.plus)) -
         unknown_of(solution, equations.node(port.minus));
}

}  // namespace ohmtilt
