#include <ohmtilt/base/constants.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/least_squares.h>
#include <ohmtilt/base/percentiles.h>
#include <ohmtilt/base/products.h>
#include <ohmtilt/measure/level_check.h>
#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

namespace ohmtilt {
namespace {

using Eigen::Index;
using Eigen::VectorXd;
using Parameters = Eigen::Vector4d;
using Which = MovedGain::Which;

// Limits are common practice, no source.
constexpr double low_hz = 100, high_hz = 10e3, least_coherence = 0.9;
constexpr Index most_points = 60;
constexpr double level_limit_db = 0.03;
constexpr double usual_move_db = 6, most_move_db = 30;
constexpr double most_source_ohm = 2000, most_source_henry = 100e-6, least_source_farad = 4.7e-6;
constexpr double likewise = 1.5;  // what explains the levels about as well as the best does

/// The levels of one recording over those of the unloaded source, and what load they were under.
struct Loaded {
  Array level_db;
  ComplexArray share;  ///< Z/(Z + R)
  bool measured;       ///< what a moved gain changes
};

struct Levels {
  Array frequency_hz;
  std::vector<Loaded> recordings;
  Wiring wiring;
  double reference_ohm;
};

std::vector<Index> looked_at(const Transfer& measured, const MeasuredImpedance& impedance) {
  std::vector<Index> all;
  for (Index i = 0; i < measured.frequency_hz.size(); ++i) {
    const double hz = measured.frequency_hz[i];
    if (hz >= low_hz && hz <= high_hz && measured.coherence[i] >= least_coherence &&
        std::isfinite(std::abs(impedance.share[i])))
      all.push_back(i);
  }
  const auto count = static_cast<Index>(all.size());
  if (count <= most_points) return all;
  std::vector<Index> some;
  for (Index i = 0; i < most_points; ++i)
    some.push_back(all[static_cast<std::size_t>(i * (count - 1) / (most_points - 1))]);
  return some;
}

const std::optional<Transfer>& unloaded(const Calibration& calibration, Wiring wiring) {
  const bool open_tells = !calibration.same && wiring == Wiring::load;
  return open_tells ? calibration.open : calibration.same;
}

Levels levels_of(const Transfer& measured, const Calibration& calibration,
                 const MeasuredImpedance& impedance, const ImpedanceOptions& options) {
  Levels all{{}, {}, options.wiring, options.reference_ohm};
  const auto& base = unloaded(calibration, options.wiring);
  if (!base || base->first_level_db.size() == 0 || measured.first_level_db.size() == 0) return all;
  const std::vector<Index> places = looked_at(measured, impedance);
  all.frequency_hz = measured.frequency_hz(places);
  const Array base_db = base->first_level_db(places);
  const auto add = [&](const Transfer& of, const ComplexArray& load_ohm) {
    all.recordings.push_back({of.first_level_db(places) - base_db,
                              load_ohm / (load_ohm + options.reference_ohm), false});
  };
  const auto n = static_cast<Index>(places.size());
  all.recordings.push_back(
      {measured.first_level_db(places) - base_db, impedance.share(places), true});
  const ComplexArray leads = calibration.short_ ? ComplexArray(impedance.leads_ohm(places))
                                                : ComplexArray(ComplexArray::Zero(n));
  if (calibration.short_) add(*calibration.short_, leads);
  if (calibration.known) add(*calibration.known, leads + calibration.known_ohm);
  return all;
}

/// A gain as a hypothesis: none, or one whose logarithm is the fourth parameter.
using Moved = std::optional<Which>;

/// Residuals of all levels in dB. Parameters: Rs, w Ls at 10 kHz and 1/(w Cs) at 100 Hz over the
/// reference, and a moved gain in nepers.
class LevelFit : public LeastSquares {
 public:
  LevelFit(const Levels& levels, Moved moved) : levels_(levels), moved_(moved) {}

  double cost(const VectorXd& x) override { return residuals(x).squaredNorm(); }
  NormalEquations normal_equations(const VectorXd& x) override {
    const VectorXd here = residuals(x);
    Eigen::MatrixXd slope(here.size(), x.size());
    for (Index i = 0; i < x.size(); ++i) {
      VectorXd other = x;
      const double step = 1e-6 * (1 + std::abs(x[i]));
      other[i] += step;
      slope.col(i) = (residuals(other) - here) / step;
    }
    return {transposed_product(slope, slope), slope.transpose() * here};
  }
  Index points() const {
    return static_cast<Index>(levels_.recordings.size()) * levels_.frequency_hz.size();
  }

 private:
  VectorXd residuals(const VectorXd& x) const {
    const Array& hz = levels_.frequency_hz;
    ComplexArray source(hz.size());
    source.real().setConstant(x[0]);
    source.imag() = x[1] * hz / high_hz - x[2] * low_hz / hz;
    VectorXd all(points());
    Index at = 0;
    for (const Loaded& one : levels_.recordings) {
      const bool moves = one.measured && moved_;
      const double gain = moves ? std::exp(x[3]) : 1;
      const double on_ratio = !moves                     ? 1
                              : *moved_ == Which::first  ? gain
                              : *moved_ == Which::second ? 1 / gain
                                                         : 1;
      const ComplexArray share = levels_.wiring == Wiring::load
                                     ? ComplexArray(1.0 - one.share * on_ratio)
                                     : ComplexArray((1.0 - one.share) * on_ratio);
      const double level = moves && *moved_ != Which::second ? db_from_amplitude(gain) : 0;
      const Array falls = db_from_amplitude(Array((1.0 + source * share).abs()));
      all.segment(at, hz.size()) = (one.level_db - level + falls).matrix();
      at += hz.size();
    }
    return all;
  }
  const Levels& levels_;
  Moved moved_;
};

struct Fitted {
  double left_db;
  Parameters x;  ///< as LevelFit has them
  double moved_db() const { return x[3] * db_per_neper; }
};

Bounds bounds_of(const Levels& levels, double least_db, double most_db) {
  const double reference = levels.reference_ohm;
  return {
      Parameters(0, 0, 0, least_db / db_per_neper),
      Parameters(most_source_ohm / reference, two_pi * high_hz * most_source_henry / reference,
                 1 / (two_pi * low_hz * least_source_farad) / reference, most_db / db_per_neper)};
}

Fitted best_of(LevelFit& fit, const std::vector<Parameters>& starts, const Bounds& bounds) {
  Minimum best = minimised(fit, starts.front(), bounds);
  for (std::size_t i = 1; i < starts.size(); ++i) {
    Minimum found = minimised(fit, starts[i], bounds);
    if (found.cost < best.cost) best = std::move(found);
  }
  return {std::sqrt(best.cost / static_cast<double>(fit.points())), best.x};
}

/// Sources to start from, each with this move.
void add_starts(double moved_db, std::vector<Parameters>& starts) {
  for (const double resistance : {0.05, 0.5, 3.0})
    for (const double capacitance : {1e-3, 0.5})
      starts.emplace_back(resistance, 1e-3, capacitance, moved_db / db_per_neper);
}

/// The best source, and where a gain moves its best move.
Fitted fitted(const Levels& levels, Moved moved) {
  LevelFit fit(levels, moved);
  const double most_db = moved ? most_move_db : 0;
  std::vector<Parameters> starts;
  for (const double db : {0.0, -3.0, 3.0})
    if (moved || db == 0) add_starts(db, starts);
  return best_of(fit, starts, bounds_of(levels, -most_db, most_db));
}

/// What a move leaves of the levels when the source is anything.
double left_by_db(const Levels& levels, Which which, double db) {
  LevelFit fit(levels, which);
  std::vector<Parameters> starts;
  add_starts(db, starts);
  return best_of(fit, starts, bounds_of(levels, db, db)).left_db;
}

/// The smallest of a few moves, either way, that the levels would show.
double hidden_within_db(const Levels& levels, Which which, double limit_db) {
  double shown = std::numeric_limits<double>::infinity();
  for (const double db : {6.0, 3.0, 1.0, 0.3, 0.1}) {
    for (const double side : {-1.0, 1.0})
      if (left_by_db(levels, which, side * db) <= limit_db) return shown;
    shown = db;
  }
  return shown;
}

std::vector<MovedGain> explanations(const Levels& levels, double limit_db) {
  std::vector<MovedGain> all;
  for (const Which which : {Which::volume, Which::first, Which::second}) {
    const Fitted found = fitted(levels, which);
    all.push_back({which, found.moved_db(), found.left_db});
  }
  std::stable_sort(all.begin(), all.end(),
                   [](const auto& a, const auto& b) { return a.left_db < b.left_db; });
  const double enough = std::max(limit_db, likewise * all[0].left_db);
  std::vector<MovedGain> kept;
  for (const MovedGain& one : all)
    if (one.left_db <= enough && std::abs(one.db) <= usual_move_db) kept.push_back(one);
  if (kept.empty()) kept.push_back(all[0]);
  return kept;
}

}  // namespace

double MovedGain::ratio_factor() const {
  if (which == Which::volume) return 1;
  return amplitude_from_db(which == Which::first ? db : -db);
}

bool LevelCheck::explained_by(MovedGain::Which which) const {
  return std::any_of(moved.begin(), moved.end(),
                     [which](const MovedGain& one) { return one.which == which; });
}

LevelCheck level_check(const Transfer& measured, const Calibration& calibration,
                       const MeasuredImpedance& impedance, const ImpedanceOptions& options) {
  LevelCheck result;
  const Levels levels = levels_of(measured, calibration, impedance, options);
  if (levels.frequency_hz.size() < 12) return result;
  result.possible = true;
  // Noise adds its power to a level.
  result.limit_db = level_limit_db +
                    db_from_power(2 - std::clamp(percentile(measured.coherence, 0.25), 0.0, 1.0));
  const Fitted unmoved = fitted(levels, std::nullopt);
  result.left_db = unmoved.left_db;
  result.source_ohm = unmoved.x[0] * options.reference_ohm;
  if (result.left_db > result.limit_db) {
    result.moved = explanations(levels, result.limit_db);
    return result;
  }
  result.first_within_db = hidden_within_db(levels, Which::first, result.limit_db);
  result.second_within_db = hidden_within_db(levels, Which::second, result.limit_db);
  return result;
}

}  // namespace ohmtilt
