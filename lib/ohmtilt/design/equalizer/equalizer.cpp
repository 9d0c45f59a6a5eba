#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/design/equalizer/equalizer.h>
#include <ohmtilt/design/equalizer/filter_fit.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <boost/math/tools/minima.hpp>
#include <cmath>

namespace ohmtilt {
namespace {

constexpr double highest_share_of_rate = 0.45;
constexpr Eigen::Index most_fit_points = 480;
constexpr Eigen::Index gain_points = 1024;
constexpr double least_change = 0.99;  // of the cost, for a filter to move
constexpr int quick_steps = 8;
constexpr int thorough_steps = 60;
constexpr double rounding_db = 1e-9;
constexpr std::size_t starts = 3;

void check(const EqualizerOptions& options) {
  if (options.filters < 0 || options.filters > 20)
    throw InputError(std::to_string(options.filters) + " filters are out of range",
                     "ask for 0 to 20");
  if (!(options.sample_rate_hz >= 8000 && options.sample_rate_hz <= 768000))
    throw InputError(
        "a sample rate of " + number_text(options.sample_rate_hz) + " Hz is out of range",
        "give 8000 to 768000, such as 48000");
  if (!(options.largest_gain_db > 0 && options.lowest_q > 0 &&
        options.lowest_q <= options.highest_q && std::isfinite(options.highest_q)))
    throw InputError("the limits of gain and Q leave no filter",
                     "give a positive gain and a rising range of Q");
}

/// Filters much larger than the deviation would only fight each other and cost level.
FilterLimits limits_for(const Band& band, double span_db, const EqualizerOptions& options) {
  const double largest_db =
      std::min(options.largest_gain_db, options.largest_share_of_span * span_db);
  return {band.low_hz,      std::min(band.high_hz, highest_share_of_rate * options.sample_rate_hz),
          -largest_db,      options.cut_only ? 0 : largest_db,
          options.lowest_q, options.highest_q};
}

/// How many of the rising frequencies the player can carry.
Eigen::Index carried(const Array& hz, double sample_rate_hz) {
  if ((hz < highest_share_of_rate * sample_rate_hz).count() < 4)
    throw InputError("hardly any of the deviation lies below " +
                         number_text(highest_share_of_rate * sample_rate_hz) +
                         " Hz, where filters can act at this sample rate",
                     "choose a higher sample rate or a lower band");
  return (hz <= sample_rate_hz / 2).count();
}

/// filters with the one more that helps most after a short refinement; unchanged if none does.
std::vector<Filter> with_one_more(const FilterFit& fit, const std::vector<Filter>& filters) {
  std::vector<Filter> best = filters;
  double least = fit.cost(filters);
  for (const auto& candidate : fit.candidates(filters, starts)) {
    std::vector<Filter> trial = filters;
    trial.push_back(candidate);
    trial = fit.refined(trial, quick_steps);
    const double cost = fit.cost(trial);
    if (cost >= least) continue;
    least = cost;
    best = trial;
  }
  return best.size() > filters.size() ? fit.refined(best, thorough_steps) : filters;
}

/// Each filter in turn is taken out and put where it helps most now that the others are there.
std::vector<Filter> with_better_places(const FilterFit& fit, std::vector<Filter> filters) {
  for (std::size_t i = 0; i < filters.size(); ++i) {
    std::vector<Filter> others = filters;
    others.erase(others.begin() + static_cast<std::ptrdiff_t>(i));
    const auto moved = with_one_more(fit, others);
    if (fit.cost(moved) < fit.cost(filters) * least_change) filters = moved;
  }
  return filters;
}

/// A shelf that raises one end is, but for the level, the opposite shelf that lowers the other:
/// that one needs no reduction of level, and stands in as long as all filters together still raise
/// something by as much.
std::vector<Filter> with_lowering_shelves(std::vector<Filter> filters, double sample_rate_hz) {
  double highest_db = highest_gain(filters, sample_rate_hz).db;
  for (auto& filter : filters) {
    const double gain_db = filter.gain_db;
    if (filter.kind == FilterKind::peaking || gain_db <= 0 || highest_db < gain_db - rounding_db)
      continue;
    filter.kind =
        filter.kind == FilterKind::low_shelf ? FilterKind::high_shelf : FilterKind::low_shelf;
    filter.gain_db = -gain_db;
    highest_db -= gain_db;
  }
  return filters;
}

bool worth_it(double before, double after, const EqualizerOptions& options) {
  const double kept = 1 - options.least_improvement;
  return after < before * kept * kept;
}

std::vector<Filter> fitted(const FilterFit& fit, const EqualizerOptions& options) {
  std::vector<Filter> filters;
  double cost = fit.cost(filters);
  while (filters.size() < static_cast<std::size_t>(options.filters) &&
         cost > options.enough_rms_db * options.enough_rms_db) {
    const auto more = with_one_more(fit, filters);
    const double more_cost = fit.cost(more);
    if (!worth_it(cost, more_cost, options)) break;
    filters = more;
    cost = more_cost;
  }
  if (cost > options.enough_rms_db * options.enough_rms_db)
    filters = with_better_places(fit, filters);
  filters = with_lowering_shelves(filters, options.sample_rate_hz);
  std::stable_sort(filters.begin(), filters.end(),
                   [](const Filter& a, const Filter& b) { return a.hz < b.hz; });
  return filters;
}

/// The grid itself, or a coarser one where it has more points than a fit needs.
Array fit_grid(const Array& hz) {
  return hz.size() <= most_fit_points ? hz : log_grid({hz[0], hz[hz.size() - 1]}, most_fit_points);
}

Array less_mean(const Array& hz, const Array& db) { return db - mean_over_ln_f(hz, db); }

void describe(Equalizer& result, double sample_rate_hz) {
  const Array& hz = result.frequency_hz;
  result.correction_db = sum_db(result.filters, SampledGrid(hz, sample_rate_hz));
  result.residual = residual_of(hz, result.deviation_db + result.correction_db);
  const double highest_db = highest_gain(result.filters, sample_rate_hz).db;
  result.preamp_db = highest_db > rounding_db ? -highest_db : 0;
  result.level_change_db = mean_over_ln_f(hz, result.correction_db) + result.preamp_db;
}

}  // namespace

Residual residual_of(const Array& hz, const Array& db) {
  const Array level = less_mean(hz, db);
  return {level, level.maxCoeff() - level.minCoeff(),
          std::sqrt(mean_over_ln_f(hz, level.square()))};
}

Array sum_db(const std::vector<Filter>& filters, const SampledGrid& grid) {
  Array sum = Array::Zero(grid.sine_squared.size());
  for (const auto& filter : filters) sum += response_db(filter, grid);
  return sum;
}

Extreme highest_gain(const std::vector<Filter>& filters, double sample_rate_hz) {
  const double top_hz = sample_rate_hz / 2;
  Array hz(gain_points + 1 + filters.size());
  hz << 0, log_grid({1, top_hz}, gain_points), Array::Zero(filters.size());
  for (std::size_t i = 0; i < filters.size(); ++i) hz[gain_points + 1 + i] = filters[i].hz;
  std::sort(hz.begin(), hz.end());
  const Array db = sum_db(filters, SampledGrid(hz, sample_rate_hz));
  Eigen::Index top = 0;
  Extreme highest{0, db.maxCoeff(&top)};
  highest.hz = hz[top];
  const auto loss_db = [&](double at_hz) {
    return -sum_db(filters, SampledGrid(Array::Constant(1, at_hz), sample_rate_hz))[0];
  };
  const auto [at_hz, least_loss_db] = boost::math::tools::brent_find_minima(
      loss_db, hz[std::max<Eigen::Index>(0, top - 1)], hz[std::min(hz.size() - 1, top + 1)], 40);
  if (-least_loss_db > highest.db) highest = {at_hz, -least_loss_db};
  return highest;
}

Equalizer equalize(const Array& hz, const Array& deviation_db, const EqualizerOptions& options) {
  check(options);
  const Eigen::Index count = carried(hz, options.sample_rate_hz);
  Equalizer result;
  result.frequency_hz = hz.head(count);
  result.deviation_db = less_mean(result.frequency_hz, deviation_db.head(count));
  if (count < hz.size())
    result.warnings.push_back("the player carries nothing above " +
                              number_text(options.sample_rate_hz / 2) +
                              " Hz; the deviation above is left out");
  const Array grid_hz = fit_grid(result.frequency_hz);
  const Array grid_db = LogInterpolator(result.frequency_hz, result.deviation_db).at(grid_hz);
  const FilterFit fit(grid_hz, grid_db, options.sample_rate_hz,
                      limits_for({grid_hz[0], grid_hz[grid_hz.size() - 1]},
                                 grid_db.maxCoeff() - grid_db.minCoeff(), options));
  result.filters = fitted(fit, options);
  describe(result, options.sample_rate_hz);
  return result;
}

}  // namespace ohmtilt
