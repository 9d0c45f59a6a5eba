#pragma once
// What the search of tune.h asks of a set of values, over and over.
#include <array>
#include <limits>
#include <memory>

#include <ohmtilt/analysis/tolerance/tolerance.h>
#include <ohmtilt/base/minimax.h>
#include <ohmtilt/circuit/varied_values.h>
#include <ohmtilt/design/tune/reduced_circuit.h>
#include <ohmtilt/design/tune/tune.h>

namespace ohmtilt {

/// How good values are: first how far they exceed the limits (the sum, dB), then the minimised
/// cost.
struct Judged {
  double excess = std::numeric_limits<double>::infinity();
  double cost = std::numeric_limits<double>::infinity();
  friend bool operator<(const Judged& a, const Judged& b) {
    return a.excess != b.excess ? a.excess < b.excess : a.cost < b.cost;
  }
};

using AimCosts = std::array<double, tune_aim_count>;
Judged judged_by(const TuneGoal& goal, const AimCosts& costs);

/// Values of all moves: a number each, or which of its choices (-1: no choice).
struct TuneValues {
  std::vector<Setting> settings;
  std::vector<int> choice;
};

class TuneProblem {
 public:
  TuneProblem(const TunedSubject& subject, const std::vector<Move>& moves,
              const TuneOptions& options);

  const std::vector<Move>& moves() const { return moves_; }
  /// The costs of the aims that are asked for. Where a part of the grid already shows that the
  /// values are worse than give_up (by goal), those of this part: lower limits.
  AimCosts costs(const TuneGoal& goal, const TuneValues& values, const Judged& give_up = {}) const;
  /// Logarithms of the values as parameters of base/minimax.h; the moves that are not free stay as
  /// in values.
  MinimaxModel model(const TuneGoal& goal, const TuneValues& values) const;

 private:
  struct Changes;
  struct Seen;
  /// Of one frequency: 20 lg of the voltage at the terminals over the reference's, of |Z| and of
  /// the current; and their derivatives by the moves.
  struct Levels {
    double level = 0, ohm = 0, ampere = 0, gain = 0;
  };
  Levels levels_of(Eigen::Index f, const Complex* output) const;
  Complex level_derivative(Eigen::Index f, const Complex* output, const Complex* by) const;
  void see(Eigen::Index f, const Levels& levels, Seen& seen) const;
  AimCosts costs_of(const Seen& seen) const;
  Changes changes(const TuneValues& values) const;
  Part part_with(std::size_t reduced, const TuneValues& values) const;
  double noise_cost(const TuneValues& values) const;
  double tolerance_cost(const TuneValues& values, const Changes& changes) const;
  /// Of a part's factors by one of its values' logarithm: term and derivative.
  using TermDerivatives = std::vector<std::pair<std::size_t, ComplexArray>>;
  TermDerivatives derivatives_by_move(const TuneValues& values, std::size_t move) const;
  TermDerivatives derivatives_by_varied(const TuneValues& values, const VariedValue& varied) const;
  SumOfMaxima by_differences(TuneAim aim, const TuneValues& values) const;
  struct Gradients;
  Gradients gradients(const TuneValues& values) const;
  SumOfMaxima maxima_of(TuneAim aim, const TuneValues& values, const Gradients& known) const;

  const std::vector<Move>& moves_;
  Array hz_;  // the grid, then loss_hz
  Eigen::Index points_ = 0;
  std::vector<Eigen::Index> order_;  // of the grid, so that its beginning spans it
  Circuit whole_;
  std::vector<VariedValue> varied_;  // only where a tolerance is asked for
  std::vector<std::size_t> parts_;   // of whole_, that change
  struct Touch {                     // a move that sets that value of a part
    std::size_t move, value;
  };
  std::vector<std::vector<Touch>> touches_;         // of each of parts_
  std::vector<std::vector<std::size_t>> parts_of_;  // of each move, places in parts_
  std::vector<bool> alone_;                         // no other move touches its parts
  std::unique_ptr<ReducedCircuit> reduced_;
  std::vector<std::vector<std::vector<ComplexArray>>> cached_;  // move, choice, term of its parts
  ComplexArray none_;                                           // a change of nothing
  bool with_load_ = false;
  Array from_db_;  // 20 lg |V| of the reference source, where the load is fixed
  ComplexArray from_ohm_, from_open_;
  Array target_db_;  // NaN where it does not count
  Array noise_hz_;
  Eigen::MatrixXd deviates_;  // tolerance times deviate: values rows, draws columns
  bool asked_[tune_aim_count] = {};
};

}  // namespace ohmtilt
