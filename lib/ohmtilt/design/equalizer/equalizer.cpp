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
constexpr std::size_t search_starts = 4;
constexpr double gain_price = 1e-4;   // 10 dB of gain weigh as much as 0.1 dB of error
constexpr double level_price = 2e-3;  // where filters only lower: 1 dB of level as much as 0.04 dB
constexpr double alike_gains = 1.1;   // sums of gains
constexpr double alike_errors = 1.3;  // rms
constexpr double alike_error_db = 0.015;
constexpr double negligible_loss_db = 0.02;

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

FilterLimits limits_for(const Band& band, const EqualizerOptions& options) {
  Band where{band.low_hz, std::min(band.high_hz, highest_share_of_rate * options.sample_rate_hz)};
  if (options.filter_band) where = overlap(where, *options.filter_band);
  return {where.low_hz,
          where.high_hz,
          -options.largest_gain_db,
          options.cut_only ? 0 : options.largest_gain_db,
          options.lowest_q,
          options.highest_q};
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

/// The search for filters of one curve, at the price of their gains and level.
class FilterSearch {
 public:
  FilterSearch(const FilterFit& fit, const EqualizerOptions& options)
      : fit_(fit), options_(options), price_{gain_price, options.cut_only ? level_price : 0} {}
  std::vector<Filter> found() const;

 private:
  double cost(const std::vector<Filter>& filters) const { return fit_.cost(filters, price_); }
  bool is_enough(const std::vector<Filter>& filters) const {
    return fit_.cost(filters) <= options_.enough_rms_db * options_.enough_rms_db;
  }
  bool worth_it(double before, double after) const {
    const double kept = 1 - options_.least_improvement;
    return after < before * kept * kept;
  }
  std::vector<Filter> with_one_more(const std::vector<Filter>& filters) const;
  std::vector<Filter> with_better_places(std::vector<Filter> filters) const;
  std::vector<Filter> without_idle(std::vector<Filter> filters) const;
  std::vector<Filter> at_less_price(std::vector<Filter> filters) const;
  std::vector<Filter> with_less_level_lost(std::vector<Filter> filters) const;

  const FilterFit& fit_;
  const EqualizerOptions& options_;
  FilterPrice price_;
};

/// filters with the one more that helps most after a short refinement; unchanged if none does.
std::vector<Filter> FilterSearch::with_one_more(const std::vector<Filter>& filters) const {
  std::vector<Filter> best = filters;
  double least = cost(filters);
  for (const auto& candidate : fit_.candidates(filters, search_starts, price_)) {
    std::vector<Filter> trial = filters;
    trial.push_back(candidate);
    trial = fit_.refined(trial, quick_steps, price_);
    const double trial_cost = cost(trial);
    if (trial_cost >= least) continue;
    least = trial_cost;
    best = trial;
  }
  return best.size() > filters.size() ? fit_.refined(best, thorough_steps, price_) : filters;
}

std::vector<Filter> without(std::vector<Filter> filters, std::size_t i) {
  filters.erase(filters.begin() + static_cast<std::ptrdiff_t>(i));
  return filters;
}

/// Each filter in turn is taken out and put where it helps most now that the others are there.
std::vector<Filter> FilterSearch::with_better_places(std::vector<Filter> filters) const {
  for (std::size_t i = 0; i < filters.size(); ++i) {
    const auto moved = with_one_more(without(filters, i));
    if (cost(moved) < cost(filters) * least_change) filters = moved;
  }
  return filters;
}

/// Less the filters that the others can do without.
std::vector<Filter> FilterSearch::without_idle(std::vector<Filter> filters) const {
  for (std::size_t i = 0; i < filters.size();) {
    const auto fewer = fit_.refined(without(filters, i), thorough_steps, price_);
    const bool idle = !worth_it(cost(fewer), cost(filters));
    if (idle) filters = fewer;
    i = idle ? 0 : i + 1;
  }
  return filters;
}

double sum_of_gains_db(const std::vector<Filter>& filters) {
  double sum = 0;
  for (const auto& filter : filters) sum += std::abs(filter.gain_db);
  return sum;
}

/// The price of gains draws them below what is best; where they stay alike without it, it is left
/// out.
std::vector<Filter> FilterSearch::at_less_price(std::vector<Filter> filters) const {
  const double most_db = alike_gains * sum_of_gains_db(filters);
  for (const double part : {0.1, 0.01, 0.0}) {
    const auto freer = fit_.refined(filters, thorough_steps, {part * price_.gain, price_.level});
    if (sum_of_gains_db(freer) > most_db) break;
    filters = freer;
  }
  return filters;
}

/// The level is made dearer as long as the error stays about the same.
std::vector<Filter> FilterSearch::with_less_level_lost(std::vector<Filter> filters) const {
  const double rms_db = std::sqrt(fit_.cost(filters));
  const double most_db = std::max(alike_errors * rms_db, rms_db + alike_error_db);
  const auto lost_db = [&](const std::vector<Filter>& one) {
    return std::sqrt(std::max(0.0, fit_.cost(one, {0, 1}) - fit_.cost(one)));
  };
  for (double level = 2 * price_.level; level < 1; level *= 2) {
    if (lost_db(filters) < negligible_loss_db) break;
    const auto louder = fit_.refined(filters, thorough_steps, {price_.gain / 100, level});
    if (fit_.cost(louder) > most_db * most_db) break;
    filters = louder;
  }
  return filters;
}

std::vector<Filter> FilterSearch::found() const {
  std::vector<Filter> filters;
  while (filters.size() < static_cast<std::size_t>(options_.filters) && !is_enough(filters)) {
    const auto more = with_one_more(filters);
    if (!worth_it(cost(filters), cost(more))) break;
    filters = more;
  }
  if (!is_enough(filters)) filters = with_better_places(filters);
  filters = at_less_price(without_idle(filters));
  return options_.cut_only ? with_less_level_lost(filters) : filters;
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

/// First those that lower, so that no signal between two filters is higher than at the end.
std::vector<Filter> lowering_first(std::vector<Filter> filters) {
  std::stable_sort(filters.begin(), filters.end(), [](const Filter& a, const Filter& b) {
    return std::pair(a.gain_db > 0, a.hz) < std::pair(b.gain_db > 0, b.hz);
  });
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
  result.lead_level_db = highest_db > rounding_db ? -highest_db : 0;
  result.level_change_db = mean_over_ln_f(hz, result.correction_db) + result.lead_level_db;
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
                      limits_for({grid_hz[0], grid_hz[grid_hz.size() - 1]}, options));
  result.filters = lowering_first(
      with_lowering_shelves(FilterSearch(fit, options).found(), options.sample_rate_hz));
  describe(result, options.sample_rate_hz);
  return result;
}

}  // namespace ohmtilt
