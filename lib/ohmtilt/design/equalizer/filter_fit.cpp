#include <ohmtilt/base/products.h>
#include <ohmtilt/design/equalizer/filter_fit.h>
#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

constexpr double highest_shelf_q = 0.7071067811865475;
constexpr double lowest_shelf_q = 0.3;
constexpr double trial_db = 3;  // shapes hardly depend on the gain
constexpr double apart_octaves = 0.5;
constexpr double negligible_cost = 1e-18;  // dB squared

/// The trapezoidal rule over ln f, as mean_over_ln_f has it.
Array weights_over_ln_f(const Array& hz) {
  const Eigen::Index n = hz.size();
  const Array ln_f = hz.log();
  const Array widths = ln_f.tail(n - 1) - ln_f.head(n - 1);
  Array weights = Array::Zero(n);
  weights.head(n - 1) += widths / 2;
  weights.tail(n - 1) += widths / 2;
  return weights / (ln_f[n - 1] - ln_f[0]);
}

/// ln hz, gain in dB and ln Q of each filter, one after the other.
Eigen::VectorXd packed(const std::vector<Filter>& filters) {
  Eigen::VectorXd x(3 * filters.size());
  for (std::size_t i = 0; i < filters.size(); ++i)
    x.segment<3>(3 * i) << std::log(filters[i].hz), filters[i].gain_db, std::log(filters[i].q);
  return x;
}

std::vector<Filter> unpacked(std::vector<Filter> filters, const Eigen::VectorXd& x) {
  for (std::size_t i = 0; i < filters.size(); ++i) {
    filters[i].hz = std::exp(x[3 * i]);
    filters[i].gain_db = x[3 * i + 1];
    filters[i].q = std::exp(x[3 * i + 2]);
  }
  return filters;
}

/// A shelf keeps an octave away from the ends (a quarter of a narrow band): else only its foot
/// would be used, and its full gain beyond the data would cost level for nothing.
Band where_for(FilterKind kind, const FilterLimits& limits) {
  if (kind == FilterKind::peaking) return {limits.low_hz, limits.high_hz};
  const double margin = std::min(2.0, std::pow(limits.high_hz / limits.low_hz, 0.25));
  return {limits.low_hz * margin, limits.high_hz / margin};
}

Bounds bounds_of(const std::vector<Filter>& filters, const FilterLimits& limits) {
  std::vector<Filter> low = filters;
  std::vector<Filter> high = filters;
  for (std::size_t i = 0; i < filters.size(); ++i) {
    const bool peaking = filters[i].kind == FilterKind::peaking;
    const Band where = where_for(filters[i].kind, limits);
    low[i] = {filters[i].kind, where.low_hz, limits.low_db,
              peaking ? limits.low_q : lowest_shelf_q};
    high[i] = {filters[i].kind, where.high_hz, limits.high_db,
               peaking ? limits.high_q : highest_shelf_q};
  }
  return {packed(low), packed(high)};
}

/// Half an octave or more from every other filter of its kind.
bool is_apart(const Filter& filter, const std::vector<Filter>& others) {
  return std::none_of(others.begin(), others.end(), [&](const Filter& other) {
    return other.kind == filter.kind && std::abs(std::log2(other.hz / filter.hz)) < apart_octaves;
  });
}

}  // namespace

/// The filters' numbers as what base/least_squares.h seeks.
class FilterFit::Problem : public LeastSquares {
 public:
  Problem(const FilterFit& fit, std::vector<Filter> filters, const FilterPrice& price)
      : fit_(fit), filters_(std::move(filters)), price_(price) {}
  double cost(const Eigen::VectorXd& x) override {
    return fit_.cost(unpacked(filters_, x), price_);
  }
  NormalEquations normal_equations(const Eigen::VectorXd& x) override {
    return fit_.normal_equations(unpacked(filters_, x), price_);
  }

 private:
  const FilterFit& fit_;
  std::vector<Filter> filters_;
  FilterPrice price_;
};

FilterFit::FilterFit(const Array& hz, const Array& curve_db, double sample_rate_hz,
                     const FilterLimits& limits)
    : curve_db_(curve_db),
      weights_(weights_over_ln_f(hz)),
      grid_(hz, sample_rate_hz),
      limits_(limits),
      needed_db_(curve_db.minCoeff() - (weights_ * curve_db).sum()) {
  add_shapes(FilterKind::peaking, 0.25, {0.35, 0.7, 1.4, 2.8, 5.6});
  add_shapes(FilterKind::low_shelf, 0.5, {highest_shelf_q});
  add_shapes(FilterKind::high_shelf, 0.5, {highest_shelf_q});
}

void FilterFit::add_shapes(FilterKind kind, double octave_step, const std::vector<double>& qs) {
  const Band where = where_for(kind, limits_);
  const double octaves = std::log2(where.high_hz / where.low_hz);
  const int count = 1 + static_cast<int>(std::ceil(octaves / octave_step));
  for (int i = 0; i < count; ++i) {
    const double hz =
        std::min(where.high_hz, where.low_hz * std::exp2(octaves * i / std::max(1, count - 1)));
    for (const double q : qs) {
      if (!worth_trying(kind, hz, q)) continue;
      const Filter filter{kind, hz, trial_db, q};
      const Array unit_db = less_mean(response_db(filter, grid_) / trial_db);
      const double mean_square = (weights_ * unit_db.square()).sum();
      if (mean_square > 0) shapes_.push_back({filter, unit_db, mean_square});
    }
  }
}

bool FilterFit::worth_trying(FilterKind kind, double hz, double q) const {
  if (kind == FilterKind::peaking) return q >= limits_.low_q && q <= limits_.high_q;
  // A shelf that raises one end is, but for the level, the opposite shelf that lowers the other:
  // the nearer end is chosen, unless one of the two is not allowed.
  const bool one_way = limits_.low_db >= 0 || limits_.high_db <= 0;
  const bool lower_half = hz * hz <= limits_.low_hz * limits_.high_hz;
  return one_way || lower_half == (kind == FilterKind::low_shelf);
}

Array FilterFit::less_mean(const Array& values) const { return values - (weights_ * values).sum(); }

Array FilterFit::sum_db(const std::vector<Filter>& filters) const {
  Array sum = Array::Zero(curve_db_.size());
  for (const auto& filter : filters) sum += response_db(filter, grid_);
  return sum;
}

Array FilterFit::residual_db(const std::vector<Filter>& filters) const {
  return less_mean(curve_db_ + sum_db(filters));
}

double FilterFit::level_lost_db(const Array& sum_db) const {
  return std::max(0.0, needed_db_ - (weights_ * sum_db).sum());
}

double FilterFit::cost(const std::vector<Filter>& filters, const FilterPrice& price) const {
  const Array sum = sum_db(filters);
  double gains = 0;
  for (const auto& filter : filters) gains += filter.gain_db * filter.gain_db;
  const double lost_db = level_lost_db(sum);
  return (weights_ * less_mean(curve_db_ + sum).square()).sum() + price.gain * gains +
         price.level * lost_db * lost_db;
}

NormalEquations FilterFit::normal_equations(const std::vector<Filter>& filters,
                                            const FilterPrice& price) const {
  Eigen::MatrixXd jacobian(curve_db_.size(), 3 * filters.size());
  Eigen::VectorXd mean_slopes(3 * filters.size());
  Array sum = Array::Zero(curve_db_.size());
  const Array root = weights_.sqrt();
  const auto add_column = [&](std::size_t column, const Array& slope) {
    const auto at = static_cast<Eigen::Index>(column);
    mean_slopes[at] = (weights_ * slope).sum();
    jacobian.col(at) = root * (slope - mean_slopes[at]);
  };
  for (std::size_t i = 0; i < filters.size(); ++i) {
    const FilterSlopes slopes = response_slopes(filters[i], grid_);
    sum += slopes.db;
    add_column(3 * i, slopes.by_ln_hz);
    add_column(3 * i + 1, slopes.by_gain_db);
    add_column(3 * i + 2, slopes.by_ln_q);
  }
  const Eigen::VectorXd residual = root * less_mean(curve_db_ + sum);
  NormalEquations equations{transposed_product(jacobian, jacobian),
                            jacobian.transpose() * residual};
  for (std::size_t i = 0; i < filters.size(); ++i) {
    const auto gain = static_cast<Eigen::Index>(3 * i + 1);
    equations.square(gain, gain) += price.gain;
    equations.gradient[gain] += price.gain * filters[i].gain_db;
  }
  const double lost_db = level_lost_db(sum);
  if (lost_db > 0) {
    equations.square += price.level * mean_slopes * mean_slopes.transpose();
    equations.gradient -= price.level * lost_db * mean_slopes;
  }
  return equations;
}

std::vector<Filter> FilterFit::refined(std::vector<Filter> filters, int steps,
                                       const FilterPrice& price) const {
  if (filters.empty()) return filters;
  Problem problem(*this, filters, price);
  const DampedSteps how{
      .steps = steps, .attempts = 14, .negligible_cost = negligible_cost, .damping = 1e-2};
  return unpacked(filters, minimised(problem, packed(filters), bounds_of(filters, limits_), how).x);
}

std::vector<Filter> FilterFit::candidates(const std::vector<Filter>& filters, std::size_t count,
                                          const FilterPrice& price) const {
  const Array weighted = weights_ * residual_db(filters);
  std::vector<std::pair<double, Filter>> trials;
  for (const auto& shape : shapes_) {
    const double along = (weighted * shape.unit_db).sum();
    const double square = shape.mean_square + price.gain;
    const double gain_db = std::clamp(-along / square, limits_.low_db, limits_.high_db);
    const double taken = -gain_db * (2 * along + gain_db * square);
    if (!(taken > 0)) continue;
    trials.emplace_back(taken, shape.filter);
    trials.back().second.gain_db = gain_db;
  }
  std::stable_sort(trials.begin(), trials.end(),
                   [](const auto& a, const auto& b) { return a.first > b.first; });
  std::vector<Filter> best;
  for (const auto& trial : trials) {
    if (best.size() == count) break;
    if (is_apart(trial.second, best)) best.push_back(trial.second);
  }
  return best;
}

}  // namespace ohmtilt
