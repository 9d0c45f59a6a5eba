// What must hold for every deviation and every setting: seeded random ones, by this file's own
// generator.
#include <complex>
#include <numbers>
#include <random>

#include <ohmtilt/design/equalizer/equalizer.h>

#include "tests/dice.h"
#include "tests/support.h"

namespace ohmtilt::test {
namespace {

/// What a source does to an earphone of a resistance, a coil and some resonances.
Array random_deviation_db(Dice& dice, const Array& hz) {
  const double ohm = dice.between(5, 40), source = dice.between(0.5, 60);
  ComplexArray z =
      ComplexArray::Constant(hz.size(), ohm) + j * dice.between(1e-5, 1e-3) * hz.cast<Complex>();
  for (int i = 1 + dice.below(3); i > 0; --i) {
    const double at = dice.between(60, 12000), q = dice.between(0.7, 6);
    z += ohm * dice.between(0.2, 4) / (1.0 + j * q * (hz / at - at / hz).cast<Complex>());
  }
  return 20 * (z / (z + source)).abs().log10();
}

EqualizerOptions random_options(Dice& dice) {
  EqualizerOptions how;
  how.filters = dice.below(8);
  how.sample_rate_hz = std::array{32000.0, 44100.0, 48000.0, 96000.0}[std::size_t(dice.below(4))];
  how.cut_only = dice.below(3) == 0;
  how.largest_gain_db = dice.between(1, 20);
  how.lowest_q = dice.between(0.2, 0.8);
  how.highest_q = dice.between(1, 10);
  if (dice.below(3) == 0) how.filter_band = Band{100, dice.between(2000, 14000)};
  return how;
}

/// 20 lg |H| of the coefficients that are written, by the definition of a transfer function.
Array by_coefficients_db(const std::vector<Filter>& filters, const Array& hz, double rate) {
  Array db = Array::Zero(hz.size());
  for (const auto& filter : filters) {
    const Biquad one = biquad(filter, rate);
    for (Eigen::Index i = 0; i < hz.size(); ++i) {
      const Complex z = std::polar(1.0, -2 * std::numbers::pi * hz[i] / rate);
      const auto value = [&](const auto& p) { return p[0] + z * (p[1] + z * p[2]); };
      db[i] += 20 * std::log10(std::abs(value(one.b) / value(one.a)));
    }
  }
  return db;
}

// The filters that are written leave what is stated, lie within their limits, and in their order
// raise nothing above full scale after the level before them, neither at the end nor in between.
TEST(EqualizerProperty, TheFiltersWrittenAreTheFigureStated) {
  Dice dice(1);
  for (int run = 0; run < 200; ++run) {
    const Array hz = log_grid({20, 20000}, 64 + dice.below(40));
    const EqualizerOptions how = random_options(dice);
    const Equalizer found = equalize(hz, random_deviation_db(dice, hz), how);
    const Array& at = found.frequency_hz;
    const Array written = by_coefficients_db(found.filters, at, how.sample_rate_hz);
    EXPECT_LT((written - found.correction_db).abs().maxCoeff(), 1e-8) << run;
    const Residual left = residual_of(at, found.deviation_db + written);
    EXPECT_NEAR(left.span_db, found.residual.span_db, 1e-8) << run;
    EXPECT_NEAR(left.rms_db, found.residual.rms_db, 1e-8) << run;
    EXPECT_LE(found.residual.rms_db, residual_of(at, found.deviation_db).rms_db + 1e-9) << run;
    const Array fine = log_grid({1, how.sample_rate_hz / 2 * 0.999}, 300);
    std::vector<Filter> first;
    for (const auto& filter : found.filters) {
      first.push_back(filter);
      const double highest_db = by_coefficients_db(first, fine, how.sample_rate_hz).maxCoeff();
      EXPECT_LE(highest_db + found.lead_level_db, 1e-7) << run;
      EXPECT_LE(std::abs(filter.gain_db), how.largest_gain_db * (1 + 1e-12)) << run;
      EXPECT_TRUE(!how.cut_only || filter.gain_db <= 0) << run;
      if (how.filter_band) {
        EXPECT_GE(filter.hz, 100 * (1 - 1e-12)) << run;
        EXPECT_LE(filter.hz, how.filter_band->high_hz * (1 + 1e-12)) << run;
      }
      if (filter.kind == FilterKind::peaking) {
        EXPECT_GE(filter.q, how.lowest_q * (1 - 1e-12)) << run;
        EXPECT_LE(filter.q, how.highest_q * (1 + 1e-12)) << run;
      }
    }
    EXPECT_TRUE(!how.cut_only || found.lead_level_db == 0) << run;
  }
}

// Filters that fight each other cost level and digits: what all of them do at any frequency,
// without regard to sign, stays of the size of the deviation.
TEST(EqualizerProperty, FiltersDoNotFightEachOther) {
  Dice dice(2);
  double worst = 0;
  for (int run = 0; run < 60; ++run) {
    const Array hz = log_grid({20, 20000}, 96);
    const Array db = random_deviation_db(dice, hz);
    const Equalizer found = equalize(hz, db, {});
    Array moved = Array::Zero(found.frequency_hz.size());
    for (const auto& filter : found.filters)
      moved += sum_db({filter}, SampledGrid(found.frequency_hz, 48000)).abs();
    worst = std::max(worst, moved.maxCoeff() / (db.maxCoeff() - db.minCoeff()));
  }
  EXPECT_LT(worst, 3);
}

// The exact inverse that raises nothing loses the deviation's mean over its minimum; filters that
// only lower lose little more.
TEST(EqualizerProperty, CutOnlyGivesAwayLittleLevel) {
  Dice dice(3);
  for (int run = 0; run < 60; ++run) {
    const Array hz = log_grid({20, 20000}, 96);
    const Array db = random_deviation_db(dice, hz);
    EqualizerOptions how;
    how.cut_only = true;
    const Equalizer found = equalize(hz, db, how);
    const double needed_db = mean_over_ln_f(hz, db) - db.minCoeff();
    const double lost_db = -found.level_change_db;
    EXPECT_LE(lost_db, needed_db + std::max(0.3, 0.35 * (db.maxCoeff() - db.minCoeff()))) << run;
  }
}

}  // namespace
}  // namespace ohmtilt::test
