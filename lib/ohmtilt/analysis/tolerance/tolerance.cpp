
#include <ohmtilt/analysis/tolerance/extreme_search.h>
#include <ohmtilt/analysis/tolerance/heat.h>
#include <ohmtilt/analysis/tolerance/tolerance.h>
#include <ohmtilt/analysis/tolerance/trial_levels.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/parallel.h>
#include <ohmtilt/chain/chain_circuit.h>
#include <ohmtilt/circuit/solver.h>
#include <ohmtilt/circuit/varied_values.h>
#include <ohmtilt/text/error.h>

#include <algorithm>
#include <mutex>

namespace ohmtilt {
namespace {

const std::vector<double> band_fractions{0.05, 0.5, 0.95};
const std::vector<double> channel_fraction{0.95};

[[noreturn]] void refuse_nothing_to_vary() {
  throw InputError("no part has a tolerance", "give parts or pads a tolerance_percent");
}

/// In dB, between two powers.
double interpolated_db(const OrderPair& power) {
  const double below_db = db_from_power(power.below);
  if (power.below == power.above || power.below <= 0) return below_db;
  return OrderPair{below_db, db_from_power(power.above), power.part}.interpolated();
}

double interpolated_value(const OrderPair& pair) { return pair.interpolated(); }

Percentiles room_for_percentiles(Eigen::Index points) {
  return {Array(points), Array(points), Array(points)};
}

void store(Percentiles& percentiles, Eigen::Index at, Array& values,
           double (*value_of)(const OrderPair&)) {
  const auto pairs = order_pairs(values, band_fractions);
  percentiles.p05[at] = value_of(pairs[0]);
  percentiles.p50[at] = value_of(pairs[1]);
  percentiles.p95[at] = value_of(pairs[2]);
}

/// Work that goes through the frequencies block by block and tells how far it is.
void in_blocks(Eigen::Index points, Eigen::Index block, const std::function<void(double)>& told,
               const std::function<void(Eigen::Index first, Eigen::Index count)>& work) {
  for (Eigen::Index first = 0; first < points; first += block) {
    const Eigen::Index count = std::min(block, points - first);
    work(first, count);
    if (told) told(static_cast<double>(first + count) / static_cast<double>(points));
  }
}

// ---- circuits ----------------------------------------------------------------------------------

/// |Z| in ohm and powers of the transfers over draws and a block of frequencies.
struct DrawnCircuit {
  Eigen::ArrayXXd impedance_ohm;
  std::vector<Eigen::ArrayXXd> transfer_power;
};

/// A circuit's draws, a block of frequencies at a time.
class CircuitSampler {
 public:
  CircuitSampler(const Circuit& circuit, const Array& hz, const CircuitQuestion& question,
                 const ToleranceOptions& options)
      : varied_(varied_circuit(
            circuit, axes_,
            circuit_heat(
                circuit, hz,
                question.drive ? std::optional(circuit.port(*question.drive).name) : std::nullopt,
                options))),
        port_(circuit.port(question.port)),
        ports_(circuit.ports()) {
    if (varied_.values.empty()) refuse_nothing_to_vary();
    if (question.drive) drive_ = circuit.port(*question.drive);
    for (const auto& port : ports_)
      if (!drive_ || port.name != drive_->name) transfer_ports_.push_back(port.name);
  }

  const std::vector<DrawAxis>& axes() const { return axes_.axes(); }
  const std::vector<std::string>& transfer_ports() const { return transfer_ports_; }

  Eigen::Index block_size(Eigen::Index draws) const {
    const double bytes =
        8. * static_cast<double>(draws) * static_cast<double>(1 + transfer_ports_.size());
    return std::clamp<Eigen::Index>(static_cast<Eigen::Index>(48e6 / bytes), 1, 120);
  }

  DrawnCircuit at(const Array& hz, const Draws& draws) const {
    DrawnCircuit result{Eigen::ArrayXXd(draws.count(), hz.size()), {}};
    result.transfer_power.assign(transfer_ports_.size(), Eigen::ArrayXXd(draws.count(), hz.size()));
    CircuitDraws(varied_, draws).each(hz, [&](Eigen::Index draw, const NodalSystem& system) {
      result.impedance_ohm.row(draw) = driving_point(system, port_).abs().transpose();
      if (transfer_ports_.empty()) return;
      const auto found =
          drive_ ? transfers(system, ports_, *drive_) : own_port_volts(system, ports_);
      for (std::size_t i = 0; i < found.size(); ++i)
        result.transfer_power[i].row(draw) = found[i].volt.abs2().transpose();
    });
    return result;
  }

 private:
  DrawAxes axes_;
  VariedCircuit varied_;
  Port port_;
  std::vector<Port> ports_;
  std::optional<Port> drive_;
  std::vector<std::string> transfer_ports_;
};

// ---- deviation
// ---------------------------------------------------------------------------------

/// What each frequency weighs in the anchor's mean.
Array anchor_weights(const DeviationGrid& grid) {
  const Eigen::Index count = grid.anchor_hz.size();
  Array weights(count);
  for (Eigen::Index k = 0; k < count; ++k) {
    Array one = Array::Zero(count);
    one[k] = 1;
    weights[k] = mean_over_ln_f(grid.anchor_hz, one);
  }
  return weights;
}

/// The draws of a comparison, a column of draws at a time.
class ComparisonSampler {
 public:
  ComparisonSampler(const TolerancedComparison& comparison, const ToleranceOptions& options,
                    const Progress& progress)
      : grid_(comparison.grid),
        hz_(comparison.grid.all_hz()),
        levels_(comparison, options),
        progress_(progress) {
    if (!levels_.varies()) refuse_nothing_to_vary();
  }

  const std::vector<DrawAxis>& axes() const { return levels_.axes(); }

  /// use(f, change, level): powers over draws at grid frequency f; the change is anchored. Called
  /// from several threads.
  void run(const Draws& draws,
           const std::function<void(Eigen::Index f, Array& change, const Array& level)>& use) {
    count_ = draws.count();
    levels_.prepare(draws);
    find_anchor();
    in_blocks(grid_.grid_hz.size(), levels_.block_size(), progress_,
              [&](Eigen::Index first, Eigen::Index columns) {
                const auto block = levels_.block(hz_.segment(first, columns), first);
                parallel_for(Eigen::Index{0}, columns, [&](Eigen::Index f) {
                  const Array level = level_power(block.load_ohm, block.to, f, 0, count_);
                  Array change = level / anchor_power_;
                  divide_by_from(block, f, 0, change);
                  use(first + f, change, level);
                });
              });
  }

 private:
  static void divide_by_from(const DrawnLevels::Block& block, Eigen::Index f, Eigen::Index first,
                             Array& power) {
    if (block.from_varies())
      power /= level_power(block.load_ohm, block.from, f, first, power.size());
    else
      power /= level_power(block.load_ohm, block.from, f, 0, 1)[0];
  }

  /// Of each draw, what the anchor takes away, as a power ratio.
  void find_anchor() {
    Array anchor_db = Array::Zero(count_);
    const Array weights = anchor_weights(grid_);
    const Eigen::Index offset = grid_.grid_hz.size();
    in_blocks(weights.size(), levels_.block_size(), nullptr,
              [&](Eigen::Index start, Eigen::Index columns) {
                const auto block =
                    levels_.block(hz_.segment(offset + start, columns), offset + start);
                add_anchor(block, weights.segment(start, columns), anchor_db);
              });
    anchor_power_ = power_from_db(anchor_db);
  }

  void add_anchor(const DrawnLevels::Block& block, const Array& weights, Array& anchor_db) const {
    constexpr Eigen::Index part = 1024;
    parallel_for(Eigen::Index{0}, (count_ + part - 1) / part, [&](Eigen::Index i) {
      const Eigen::Index first = i * part;
      const Eigen::Index count = std::min(part, count_ - first);
      for (Eigen::Index k = 0; k < weights.size(); ++k) {
        Array power = level_power(block.load_ohm, block.to, k, first, count);
        divide_by_from(block, k, first, power);
        anchor_db.segment(first, count) += 10 * weights[k] * power.log10();
      }
    });
  }

  DeviationGrid grid_;
  Array hz_;
  DrawnLevels levels_;
  Progress progress_;
  Eigen::Index count_ = 0;
  Array anchor_power_;
};

/// The largest and smallest of each draw over the frequencies, gathered a thread at a time: maxima
/// and minima are the same in any order.
class SpanKeeper {
 public:
  explicit SpanKeeper(Eigen::Index draws)
      : highest_([draws] { return Array(Array::Zero(draws)); }),
        lowest_([draws] { return Array(Array::Constant(draws, INFINITY)); }) {}
  void add(const Array& power) {
    Array& highest = highest_.local();
    Array& lowest = lowest_.local();
    highest = highest.max(power);
    lowest = lowest.min(power);
  }
  NumberPercentiles percentiles_db() {
    Array ratio = highest_.combine([](const Array& a, const Array& b) { return Array(a.max(b)); }) /
                  lowest_.combine([](const Array& a, const Array& b) { return Array(a.min(b)); });
    const auto pairs = order_pairs(ratio, band_fractions);
    return {interpolated_db(pairs[0]), interpolated_db(pairs[1]), interpolated_db(pairs[2])};
  }

 private:
  PerThread<Array> highest_, lowest_;
};

/// Levels of two channels, larger over smaller, one a pair of draws: 2i and 2i + 1, or, of channels
/// without a group in common, 4i and 4i + 2.
Array channel_ratios(const Array& level, Eigen::Index apart) {
  Array ratios(level.size() / (2 * apart));
  for (Eigen::Index i = 0; i < ratios.size(); ++i) {
    const double a = level[2 * apart * i], b = level[2 * apart * i + apart];
    ratios[i] = a > b ? a / b : b / a;
  }
  return ratios;
}

/// The order of whichever frequency came first.
class Orders {
 public:
  const Ranks& changes(const Array& change) { return kept(changes_, change_once_, change); }
  const Ranks& ratios(const Array& ratio) { return kept(ratios_, ratio_once_, ratio); }

 private:
  static const Ranks& kept(std::optional<Ranks>& ranks, std::once_flag& once, const Array& values) {
    std::call_once(once, [&] { ranks.emplace(values); });
    return *ranks;
  }
  std::optional<Ranks> changes_, ratios_;
  std::once_flag change_once_, ratio_once_;
};

}  // namespace

bool has_tolerances(const Circuit& circuit, const ToleranceOptions& options) {
  PartHeat heat{options.low_celsius, options.high_celsius, {}};
  if (options.heating_volt.value_or(0) > 0)
    for (const auto& part : circuit.parts()) heat.watt[part.name] = 1;
  DrawAxes axes;
  return !varied_circuit(circuit, axes, heat).values.empty();
}

bool has_tolerances(const TheveninSource& source, const ToleranceOptions& options) {
  return source.chain && has_tolerances(Circuit(chain_circuit(*source.chain)), options);
}

CircuitTolerance circuit_tolerance(const Circuit& circuit, const Array& hz,
                                   const CircuitQuestion& question,
                                   const ToleranceOptions& options) {
  const CircuitSampler sampler(circuit, hz, question, options);
  const Draws draws = Draws::random(options, sampler.axes());
  CircuitTolerance result{room_for_percentiles(hz.size()), {}};
  for (const auto& port : sampler.transfer_ports())
    result.transfer.push_back({port, room_for_percentiles(hz.size())});
  in_blocks(hz.size(), sampler.block_size(draws.count()), options.progress,
            [&](Eigen::Index first, Eigen::Index count) {
              const DrawnCircuit drawn = sampler.at(hz.segment(first, count), draws);
              parallel_for(Eigen::Index{0}, count, [&](Eigen::Index f) {
                Array column = drawn.impedance_ohm.col(f);
                store(result.impedance_ohm, first + f, column, interpolated_value);
                for (std::size_t i = 0; i < result.transfer.size(); ++i) {
                  column = drawn.transfer_power[i].col(f);
                  store(result.transfer[i].db, first + f, column, interpolated_db);
                }
              });
            });
  return result;
}

CircuitWorstCase circuit_worst_case(const Circuit& circuit, const Array& hz,
                                    const CircuitQuestion& question,
                                    const ToleranceOptions& options) {
  const CircuitSampler sampler(circuit, hz, question, options);
  const std::size_t ports = sampler.transfer_ports().size();
  const auto drawn = [&](const Draws& draws, const TakeDrawn& take) {
    in_blocks(hz.size(), sampler.block_size(draws.count()), nullptr,
              [&](Eigen::Index first, Eigen::Index count) {
                const DrawnCircuit one = sampler.at(hz.segment(first, count), draws);
                for (Eigen::Index f = 0; f < count; ++f) {
                  take(0, first + f, one.impedance_ohm.col(f));
                  for (std::size_t i = 0; i < ports; ++i)
                    take(i + 1, first + f, 10 * Array(one.transfer_power[i].col(f)).log10());
                }
              });
  };
  auto found = extremes_over(drawn, sampler.axes().size(), ports + 1, hz.size());
  CircuitWorstCase result{std::move(found.quantities[0]), {}, found.reach};
  for (std::size_t i = 0; i < ports; ++i)
    result.transfer.push_back({sampler.transfer_ports()[i], std::move(found.quantities[i + 1])});
  return result;
}

DeviationTolerance deviation_tolerance(const TolerancedComparison& comparison,
                                       const ToleranceOptions& options) {
  ComparisonSampler sampler(comparison, options, options.progress);
  const Eigen::Index points = comparison.grid.grid_hz.size();
  DeviationTolerance result{room_for_percentiles(points), {}, Array(points), {}};
  const Draws draws = Draws::random(options, sampler.axes());
  const bool matched = std::any_of(sampler.axes().begin(), sampler.axes().end(),
                                   [](const DrawAxis& axis) { return axis.alike == 2; });
  if (matched) result.channel_difference_unmatched_db = Array(points);
  SpanKeeper spans(draws.count());
  Orders orders;
  sampler.run(draws, [&](Eigen::Index f, Array& change, const Array& level) {
    spans.add(change);
    Array arranged = orders.changes(change).arranged(change);
    store(result.deviation_db, f, arranged, interpolated_db);
    const Array ratios = channel_ratios(level, 1);
    arranged = orders.ratios(ratios).arranged(ratios);
    result.channel_difference_db[f] =
        interpolated_db(order_pairs(arranged, channel_fraction).front());
    if (!matched) return;
    Array apart = channel_ratios(level, 2);
    result.channel_difference_unmatched_db[f] =
        interpolated_db(order_pairs(apart, channel_fraction).front());
  });
  result.span_db = spans.percentiles_db();
  return result;
}

namespace {

/// Deviation and level in dB of draws.
DrawnQuantities drawn_levels(ComparisonSampler& sampler) {
  return [&sampler](const Draws& draws, const TakeDrawn& take) {
    sampler.run(draws, [&](Eigen::Index f, Array& change, const Array& level) {
      take(0, f, 10 * change.log10());
      take(1, f, 10 * level.log10());
    });
  };
}

/// The same with the axes that both channels share left in their middle.
DrawnQuantities with_common_still(const DrawnQuantities& drawn, const std::vector<DrawAxis>& axes,
                                  const std::vector<std::size_t>& own) {
  return [&drawn, &axes, &own](const Draws& draws, const TakeDrawn& take) {
    Eigen::MatrixXd rows =
        Eigen::MatrixXd::Zero(draws.count(), static_cast<Eigen::Index>(axes.size()));
    for (Eigen::Index draw = 0; draw < draws.count(); ++draw)
      for (std::size_t a = 0; a < own.size(); ++a)
        rows(draw, static_cast<Eigen::Index>(own[a])) = draws.deviate(draw, a);
    drawn(Draws::listed(std::move(rows)), take);
  };
}

}  // namespace

DeviationWorstCase deviation_worst_case(const TolerancedComparison& comparison,
                                        const ToleranceOptions& options) {
  ComparisonSampler sampler(comparison, options, nullptr);
  const Eigen::Index points = comparison.grid.grid_hz.size();
  const auto& axes = sampler.axes();
  const DrawnQuantities drawn = drawn_levels(sampler);
  auto found = extremes_over(drawn, axes.size(), 2, points);
  std::vector<std::size_t> own;
  for (std::size_t a = 0; a < axes.size(); ++a)
    if (axes[a].alike == 1) own.push_back(a);
  Extremes level = found.quantities[1];
  if (own.size() < axes.size())
    level = extremes_over(with_common_still(drawn, axes, own), own.size(), 2, points).quantities[1];
  return {std::move(found.quantities[0]), level.highest - level.lowest, found.reach};
}

}  // namespace ohmtilt
