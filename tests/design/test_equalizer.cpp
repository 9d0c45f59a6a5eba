#include <cmath>
#include <numbers>

#include <ohmtilt/design/equalizer/equalizer.h>
#include <ohmtilt/design/equalizer/filter_fit.h>
#include <ohmtilt/text/error.h>

#include "tests/design/pads.h"
#include "tests/support.h"

namespace ohmtilt {
namespace {

using test::grid_hz;
using test::j;

Array of(const std::vector<Filter>& filters, double rate = 48000) {
  return sum_db(filters, SampledGrid(grid_hz, rate));
}

/// A deviation such as a source gives: |Z/(Z + 6)| of two parallel resonances (own invention).
Array typical_deviation() {
  Array db(grid_hz.size());
  for (Eigen::Index i = 0; i < db.size(); ++i) {
    const double f = grid_hz[i];
    const Complex z = 12.0 + j * 2e-4 * f + 30.0 / (1.0 + 3.0 * j * (f / 2500 - 2500 / f)) +
                      9.0 / (1.0 + 2.0 * j * (f / 300 - 300 / f));
    db[i] = 20 * std::log10(std::abs(z / (z + 6.0)));
  }
  return db;
}

// What a filter did is undone by the filter of opposite gain: the fit must find it.
TEST(Equalizer, FindsTheOneFilterThatWasThere) {
  for (const Filter filter :
       {Filter{FilterKind::peaking, 2500, 4, 1.7}, Filter{FilterKind::peaking, 73, -6, 0.5},
        Filter{FilterKind::low_shelf, 150, 5, 0.6}, Filter{FilterKind::high_shelf, 6000, 3, 0.7}}) {
    const auto found = equalize(grid_hz, of({filter}), {});
    ASSERT_EQ(found.filters.size(), 1u) << to_string(filter.kind);
    EXPECT_LT(found.residual.span_db, 1e-6);
    EXPECT_EQ(found.filters[0].kind, filter.kind);
    EXPECT_NEAR(found.filters[0].hz / filter.hz, 1, 1e-6);
    EXPECT_NEAR(found.filters[0].gain_db, -filter.gain_db, 1e-6);
    EXPECT_NEAR(found.filters[0].q, filter.q, 1e-6);
  }
}

// A low shelf and the opposite high shelf differ by a level only (the cookbook's formulas divided
// by one another), so the one that lowers is given.
TEST(Equalizer, LowersOneEndInPlaceOfRaisingTheOther) {
  const auto found = equalize(grid_hz, of({{FilterKind::low_shelf, 150, -5, 0.6}}), {});
  ASSERT_EQ(found.filters.size(), 1u);
  EXPECT_EQ(found.filters[0].kind, FilterKind::high_shelf);
  EXPECT_NEAR(found.filters[0].gain_db, -5, 1e-6);
  EXPECT_EQ(found.lead_level_db, 0);
  EXPECT_LT(found.residual.span_db, 1e-6);
}

TEST(Equalizer, FindsSeveralFiltersAtOnce) {
  const auto found = equalize(grid_hz,
                              of({{FilterKind::low_shelf, 100, 4, 0.7},
                                  {FilterKind::peaking, 1000, -3, 2},
                                  {FilterKind::peaking, 5000, 5, 3}}),
                              {});
  EXPECT_LE(found.filters.size(), 4u);
  EXPECT_LT(found.residual.rms_db, 0.01);
}

TEST(Equalizer, LeavesAFlatDeviationAlone) {
  for (const double level_db : {0.0, -7.5}) {
    const auto found = equalize(grid_hz, Array::Constant(480, level_db), {});
    EXPECT_TRUE(found.filters.empty());
    EXPECT_EQ(found.lead_level_db, 0);
    EXPECT_EQ(found.correction_db.abs().maxCoeff(), 0);
    EXPECT_LT(found.residual.span_db, 1e-12);
  }
}

TEST(Equalizer, OfNoFiltersLeavesTheDeviation) {
  EqualizerOptions none;
  none.filters = 0;
  const Array db = typical_deviation();
  const auto found = equalize(grid_hz, db, none);
  EXPECT_TRUE(found.filters.empty());
  EXPECT_NEAR(found.residual.span_db, db.maxCoeff() - db.minCoeff(), 1e-12);
}

TEST(Equalizer, MoreFiltersLeaveLess) {
  double before = INFINITY;
  for (const int filters : {0, 1, 2, 3, 5, 8}) {
    EqualizerOptions options;
    options.filters = filters;
    const auto found = equalize(grid_hz, typical_deviation(), options);
    EXPECT_LE(found.filters.size(), static_cast<std::size_t>(filters));
    EXPECT_LE(found.residual.rms_db, before);
    before = found.residual.rms_db;
  }
  EXPECT_LT(before, 0.05);
}

TEST(Equalizer, IgnoresTheLevelOfTheDeviation) {
  const auto here = equalize(grid_hz, typical_deviation(), {});
  const auto lower = equalize(grid_hz, typical_deviation() - 20, {});
  ASSERT_EQ(here.filters.size(), lower.filters.size());
  EXPECT_NEAR(here.residual.span_db, lower.residual.span_db, 1e-6);
}

TEST(Equalizer, OnlyCutsWhenAsked) {
  EqualizerOptions options;
  options.cut_only = true;
  for (const double sign : {1.0, -1.0}) {
    const auto found = equalize(grid_hz, sign * typical_deviation(), options);
    EXPECT_FALSE(found.filters.empty());
    for (const auto& filter : found.filters) EXPECT_LE(filter.gain_db, 0);
    EXPECT_LE(found.correction_db.maxCoeff(), 1e-12);
    EXPECT_NEAR(found.lead_level_db, 0, 1e-12);
    EXPECT_LT(found.residual.rms_db, 0.5 * residual_of(grid_hz, typical_deviation()).rms_db);
  }
}

TEST(Equalizer, KeepsTheFiltersWithinTheirLimits) {
  EqualizerOptions options;
  options.filters = 8;
  options.largest_gain_db = 2;
  options.highest_q = 3;
  for (const auto& filter : equalize(grid_hz, 4 * typical_deviation(), options).filters) {
    EXPECT_LE(std::abs(filter.gain_db), 2);
    EXPECT_LE(filter.q, 3 * (1 + 1e-12));
    EXPECT_GE(filter.q, 0.2 * (1 - 1e-12));
    EXPECT_GE(filter.hz, 20 * (1 - 1e-12));
    EXPECT_LE(filter.hz, 20000 * (1 + 1e-12));
    if (filter.kind != FilterKind::peaking) {
      EXPECT_LE(filter.q, std::sqrt(0.5) * (1 + 1e-12));
    }
  }
}

// Whatever the shelves are called, the level lost is what the correction itself takes: never more
// than its own span.
TEST(Equalizer, LosesNoLevelToFiltersThatFightEachOther) {
  for (const int filters : {3, 5, 10}) {
    EqualizerOptions options;
    options.filters = filters;
    const auto found = equalize(grid_hz, typical_deviation(), options);
    const double span_db = found.correction_db.maxCoeff() - found.correction_db.minCoeff();
    EXPECT_LE(found.level_change_db, 0);
    EXPECT_GE(found.level_change_db, -span_db - 0.5);
  }
}

TEST(Equalizer, ReducesTheLevelByWhatTheFiltersRaise) {
  // One filter of +6 dB raises by exactly 6 dB, wherever it lies.
  EXPECT_NEAR(equalize(grid_hz, of({{FilterKind::peaking, 3333, -6, 4}}), {}).lead_level_db, -6,
              1e-6);
  EXPECT_NEAR(equalize(grid_hz, of({{FilterKind::peaking, 3333, 6, 4}}), {}).lead_level_db, 0,
              1e-6);
  // A filter near the top: its peak lies beyond the data, and still counts.
  const Extreme top = highest_gain({{FilterKind::high_shelf, 20000, 6, 0.7}}, 48000);
  EXPECT_NEAR(top.db, 6, 1e-12);
  EXPECT_NEAR(top.hz, 24000, 1e-6);
  // Nothing between 0 and half the sample rate exceeds it.
  const auto found = equalize(grid_hz, typical_deviation(), {});
  Array fine(20001);
  fine << 0, log_grid({0.1, 24000}, 20000);
  EXPECT_LE(sum_db(found.filters, SampledGrid(fine, 48000)).maxCoeff() + found.lead_level_db, 1e-9);
}

TEST(Equalizer, LeavesOutWhatThePlayerCannotCarry) {
  EqualizerOptions slow;
  slow.sample_rate_hz = 16000;
  const auto found = equalize(grid_hz, typical_deviation(), slow);
  EXPECT_LE(found.frequency_hz[found.frequency_hz.size() - 1], 8000);
  EXPECT_EQ(found.residual.db.size(), found.frequency_hz.size());
  ASSERT_EQ(found.warnings.size(), 1u);
  for (const auto& filter : found.filters) EXPECT_LT(filter.hz, 8000);
  EXPECT_LT(found.residual.rms_db, 0.1);
  EXPECT_THROW(equalize(log_grid({8000, 20000}, 50), Array::Zero(50), slow), InputError);
}

TEST(Equalizer, WorksOnGridsOfAnySize) {
  EqualizerOptions options;
  for (const Eigen::Index points : {4, 10, 5000}) {
    const Array hz = log_grid({20, 20000}, points);
    const Filter filter{FilterKind::peaking, 1000, 3, 1};
    const Array db = response_db(filter, SampledGrid(hz, 48000));
    const auto found = equalize(hz, db, options);
    EXPECT_EQ(found.residual.db.size(), points);
    EXPECT_LT(found.residual.rms_db, 0.011) << points;
  }
}

TEST(Equalizer, RefusesOptionsOutOfRange) {
  const auto with = [](auto change) {
    EqualizerOptions options;
    change(options);
    return equalize(grid_hz, typical_deviation(), options);
  };
  EXPECT_THROW(with([](auto& o) { o.filters = -1; }), InputError);
  EXPECT_THROW(with([](auto& o) { o.filters = 21; }), InputError);
  EXPECT_THROW(with([](auto& o) { o.sample_rate_hz = 0; }), InputError);
  EXPECT_THROW(with([](auto& o) { o.sample_rate_hz = NAN; }), InputError);
  EXPECT_THROW(with([](auto& o) { o.largest_gain_db = 0; }), InputError);
  EXPECT_THROW(with([](auto& o) { o.highest_q = 0.1; }), InputError);
}

TEST(FilterFit, ImprovesTheFiltersItIsGiven) {
  const FilterFit fit(grid_hz, typical_deviation(), 48000, {20, 20000, -12, 12, 0.2, 10});
  const std::vector<Filter> start{{FilterKind::peaking, 2000, -1, 1}};
  const auto better = fit.refined(start, 50);
  EXPECT_LT(fit.cost(better), fit.cost(start));
  EXPECT_LT(std::abs(mean_over_ln_f(grid_hz, fit.residual_db(better))), 1e-12);
  // A smallest value: no small change of any setting lowers it by more than rounding.
  for (const double step : {-1e-3, 1e-3}) {
    for (int which = 0; which < 3; ++which) {
      auto moved = better;
      if (which == 0) moved[0].hz *= 1 + step;
      if (which == 1) moved[0].gain_db += step;
      if (which == 2) moved[0].q *= 1 + step;
      EXPECT_GT(fit.cost(moved), fit.cost(better) * (1 - 1e-6));
    }
  }
}

}  // namespace
}  // namespace ohmtilt
