#include <cmath>
#include <random>

#include <ohmtilt/analysis/deviation/deviation.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/text/error.h>

#include "tests/analysis/sources.h"
#include "tests/support.h"

namespace ohmtilt {
namespace {

using test::j;
using test::ohms;

/// A grid of the given frequencies, with or without an anchor at one of them.
DeviationGrid grid_of(const Array& hz, const Anchor& anchor = NoAnchor{},
                      const Array& anchor_hz = Array(0)) {
  return {hz, anchor_hz, anchor};
}

/// A two-resonance earphone in closed form (own invention).
ComplexArray earphone_ohm(const Array& hz) {
  ComplexArray z(hz.size());
  for (Eigen::Index i = 0; i < hz.size(); ++i) {
    const double f = hz[i];
    z[i] = 12.0 + j * 2e-4 * f + 30.0 / (1.0 + 3.0 * j * (f / 2500 - 2500 / f)) +
           9.0 / (1.0 + 2.0 * j * (f / 300 - 300 / f));
  }
  return z;
}

TEST(Deviation, IsTheDividerOfResistors) {
  Array hz(2);
  hz << 100, 1000;
  ComplexArray load(2);
  load << 16, 4;
  // By hand: 20 lg(16/26) = -4.21707 and 20 lg(4/14) = -10.88136; their difference is 6.66429 dB.
  const auto d = deviation(grid_of(hz), load, ohms(0, 2), ohms(10, 2));
  EXPECT_NEAR(d.deviation_db[0], -4.21707, 5e-6);
  EXPECT_NEAR(d.deviation_db[1], -10.88136, 5e-6);
  EXPECT_NEAR(d.span_db, 6.66429, 1e-5);
  EXPECT_NEAR(d.bound_db, db_from_amplitude(1 + 10.0 / 4), 1e-12);
  EXPECT_EQ(d.rise.hz, 100);
  EXPECT_EQ(d.fall.hz, 1000);
}

// Computed with NumPy from published parameter sets; the source of each driver is in the file.
// Tolerance: the file's five decimals.
TEST(Deviation, AgreesWithSeriesResistanceTables) {
  std::map<std::string, std::pair<double, double>> peak_and_coil{
      {"A", {27.8, 6.18}}, {"B", {77.2486, 7.0}}, {"C", {37.4153, 5.4}}};
  int rows = 0;
  for (const auto& row : test::csv_rows(test::data("ts_series_resistance.csv"))) {
    const auto& [peak_ohm, coil_ohm] = peak_and_coil.at(row.at("driver"));
    Array hz(2);
    hz << 100, 1000;
    ComplexArray load(2);
    load << peak_ohm, coil_ohm;
    const auto d = deviation(grid_of(hz), load, ohms(0, 2), ohms(std::stod(row.at("Rs_ohm")), 2));
    EXPECT_NEAR(d.deviation_db[0], std::stod(row.at("level_at_Zmax_dB")), 2e-5);
    EXPECT_NEAR(d.deviation_db[1], std::stod(row.at("level_at_Re_dB")), 2e-5);
    EXPECT_NEAR(d.span_db, std::stod(row.at("peak_minus_Re_dB")), 2e-5);
    ++rows;
  }
  EXPECT_GE(rows, 30);
}

// The 1:8 rule (a source of at most an eighth of the load): common practice, no source. Its worst
// case is 20 lg(1 + 1/8) = 1.0231 dB, between a load of 8 times the source and one that is
// infinite.
TEST(Deviation, OneEighthRuleGivesAboutOneDecibel) {
  Array hz(2);
  hz << 100, 1000;
  ComplexArray load(2);
  load << 8, 1e12;
  const auto d = deviation(grid_of(hz), load, ohms(0, 2), ohms(1, 2));
  EXPECT_NEAR(d.span_db, 1.0231, 5e-5);
  EXPECT_NEAR(d.bound_db, d.span_db, 1e-9);
}

/// Random passive loads of at least lowest_ohm, of which the first has just that.
ComplexArray passive_loads(std::mt19937_64& random, Eigen::Index count, double lowest_ohm) {
  ComplexArray load(count);
  for (Eigen::Index i = 0; i < count; ++i) {
    const double size = i == 0 ? 1 : std::pow(30, std::generate_canonical<double, 53>(random));
    const double phase = std::uniform_real_distribution(-1.0, 1.0)(random) * std::numbers::pi / 2;
    load[i] = std::polar(lowest_ohm * size, phase);
  }
  return load;
}

/// A passive source whose impedance and open-circuit ratio are the same at every frequency.
TheveninSamples passive_source(std::mt19937_64& random, Eigen::Index count) {
  const double phase = std::uniform_real_distribution(-1.2, 1.2)(random) * double(random() % 2);
  const double size = 100 * std::pow(std::generate_canonical<double, 53>(random), 2);
  return {ComplexArray::Constant(count, std::polar(size, phase)),
          ComplexArray::Constant(count, std::polar(0.5, phase))};
}

// Of any two sources: from the one to the other is the other to the one with its sign changed.
TEST(Deviation, ChangesItsSignWithTheSourcesSwapped) {
  std::mt19937_64 random(16);
  const Array hz = log_grid({20, 20000}, 31);
  const DeviationGrid grid = deviation_grid({20, 20000}, 30, AnchorFrequency{}, {20, 20000});
  for (int trial = 0; trial < 300; ++trial) {
    const ComplexArray load = passive_loads(random, 31, 5);
    const auto a = passive_source(random, 31), b = passive_source(random, 31);
    const auto there = deviation(grid, load, a, b), back = deviation(grid, load, b, a);
    EXPECT_LT((there.deviation_db + back.deviation_db).abs().maxCoeff(), 1e-10);
    EXPECT_NEAR(there.level_change_db, -back.level_change_db, 1e-10);
    EXPECT_NEAR(there.span_db, back.span_db, 1e-10);
    EXPECT_NEAR(there.rise.db, -back.fall.db, 1e-10);
    EXPECT_NEAR(there.bound_db, back.bound_db, 1e-9);
  }
}

// Brute force: no random load that is nowhere below the lowest |Z| spans more, and a search over
// its edge comes within a thousandth of the bound.
TEST(Deviation, BoundsEveryPassiveLoad) {
  std::mt19937_64 random(17);
  for (int trial = 0; trial < 250; ++trial) {
    const double lowest = 5 + 30 * std::generate_canonical<double, 53>(random);
    const Array hz = log_grid({20, 20000}, 400);
    const auto from = passive_source(random, 400), to = passive_source(random, 400);
    const auto d = deviation(grid_of(hz), passive_loads(random, 400, lowest), from, to);
    EXPECT_LE(d.span_db, d.bound_db + 1e-9) << trial;
    double low = 0, high = 0;  // of an open load
    const auto change_db = [&](Complex y) {
      return 20 * std::log10(std::abs(1.0 + from.output_ohm[0] * y) /
                             std::abs(1.0 + to.output_ohm[0] * y));
    };
    for (int i = -2000; i <= 2000; ++i)
      for (const Complex y :
           {std::polar(1 / lowest, i * std::numbers::pi / 4000), Complex(0, i / 2000.0 / lowest)}) {
        low = std::min(low, change_db(y));
        high = std::max(high, change_db(y));
      }
    EXPECT_NEAR(d.bound_db, high - low, 1e-3 * d.bound_db + 1e-9) << trial;
  }
}

// By hand, Z = j sqrt(Ra Rb) between Ra and Rb: 10 lg(Rb/Ra) from an open load, more than the
// 20 lg((Z + Rb)/(Z + Ra)) of a resistor.
TEST(Deviation, BoundsBothSources) {
  const Array hz = (Array(2) << 100, 1000).finished();
  const double ohm = std::sqrt(0.3 * 6);
  const ComplexArray load = (ComplexArray(2) << Complex(0, ohm), Complex(1e12, 0)).finished();
  for (const auto& [from, to] : {std::pair(0.3, 6.0), std::pair(6.0, 0.3)}) {
    const auto d = deviation(grid_of(hz), load, ohms(from, 2), ohms(to, 2));
    EXPECT_NEAR(d.span_db, 10 * std::log10(6 / 0.3), 1e-9);
    EXPECT_NEAR(d.bound_db, d.span_db, 1e-9);
  }
}

TEST(Deviation, VanishesForTheSameSourceAndForAResistor) {
  const Array hz = log_grid({20, 20000}, 50);
  const auto same = deviation(grid_of(hz), earphone_ohm(hz), ohms(3, 50), ohms(3, 50));
  EXPECT_EQ(same.span_db, 0);
  EXPECT_EQ(same.rms_db, 0);
  const auto flat =
      deviation(grid_of(hz), ComplexArray::Constant(50, 32), ohms(0, 50), ohms(120, 50));
  EXPECT_LT(flat.span_db, 1e-12);
}

TEST(Deviation, AddsUpOverAChainOfSources) {
  const Array hz = log_grid({20, 20000}, 80);
  const ComplexArray load = earphone_ohm(hz);
  const auto between = [&](double from, double to) {
    return deviation(grid_of(hz), load, ohms(from, 80), ohms(to, 80)).deviation_db;
  };
  EXPECT_LT((between(0, 3) + between(3, 20) - between(0, 20)).abs().maxCoeff(), 1e-12);
}

TEST(Deviation, DependsOnImpedanceRatiosOnly) {
  const Array hz = log_grid({20, 20000}, 80);
  const ComplexArray load = earphone_ohm(hz);
  const auto d = deviation(grid_of(hz), load, ohms(0.3, 80), ohms(6, 80));
  const auto scaled = deviation(grid_of(hz), 1000 * load, ohms(300, 80), ohms(6000, 80));
  EXPECT_LT((d.deviation_db - scaled.deviation_db).abs().maxCoeff(), 1e-12);
}

TEST(Deviation, OfAnInfiniteSourceIsTheImpedanceItself) {
  const Array hz = log_grid({20, 20000}, 80);
  const ComplexArray load = earphone_ohm(hz);
  const auto d = deviation(grid_of(hz), load, ohms(0, 80), ohms(1e12, 80));
  const Array impedance_db = 20 * load.abs().log10();
  EXPECT_NEAR(d.span_db, impedance_db.maxCoeff() - impedance_db.minCoeff(), 1e-9);
}

TEST(Deviation, IsZeroAtItsAnchor) {
  const Array hz = log_grid({20, 20000}, 481);
  const auto one = deviation_grid({20, 20000}, 480, AnchorFrequency{1234.5}, {20, 20000});
  const ComplexArray load = earphone_ohm(one.all_hz());
  const auto d = deviation(one, load, ohms(0, 481), ohms(6, 481));
  const auto free = deviation(grid_of(one.all_hz()), load, ohms(0, 481), ohms(6, 481));
  EXPECT_NEAR(d.level_change_db, free.deviation_db[480], 1e-14);
  EXPECT_LT(d.level_change_db, 0);  // a higher source is quieter

  const auto band = deviation_grid({20, 20000}, 480, AnchorBand{300, 3000}, {20, 20000});
  const ComplexArray all = earphone_ohm(band.all_hz());
  const auto in_band = deviation(band, all, ohms(0, all.size()), ohms(6, all.size()));
  const Array inside = log_grid({300, 3000}, 2001);
  const auto check = deviation(grid_of(inside), earphone_ohm(inside), ohms(0, 2001), ohms(6, 2001));
  EXPECT_NEAR(mean_over_ln_f(inside, check.deviation_db), in_band.level_change_db, 1e-5);
}

TEST(Deviation, CountsTheOpenRatioOfAChain) {
  const Array hz = log_grid({20, 20000}, 10);
  const TheveninSamples padded{ComplexArray::Constant(10, 6), ComplexArray::Constant(10, 0.1)};
  const auto d = deviation(grid_of(hz), ComplexArray::Constant(10, 16), ohms(0, 10), padded);
  EXPECT_NEAR(d.deviation_db[0], -20 + db_from_amplitude(16.0 / 22), 1e-12);
}

TEST(DeviationGrid, RefusesAnAnchorOutsideTheData) {
  EXPECT_THROW(deviation_grid({20, 20000}, 480, AnchorFrequency{50}, {100, 10000}), InputError);
  EXPECT_THROW(deviation_grid({20, 20000}, 480, AnchorBand{50, 500}, {100, 10000}), InputError);
  EXPECT_THROW(deviation_grid({20, 50}, 480, NoAnchor{}, {100, 10000}), InputError);
  const auto grid = deviation_grid({20, 20000}, 480, NoAnchor{}, {100, 700});
  EXPECT_EQ(grid.grid_hz[0], 100);
  EXPECT_EQ(grid.grid_hz[479], 700);
  EXPECT_EQ(reference_hz(grid), 700);
}

TEST(GuaranteedBand, HasTheClosedFormForAnIdealFirstSource) {
  const Array hz = log_grid({20, 20000}, 20);
  const Array magnitude = earphone_ohm(hz).abs();
  const auto band = guaranteed_band(grid_of(hz), magnitude, ohms(0, 20), ohms(6, 20));
  // |1 + R/Z| lies between sqrt(1 + (R/|Z|)^2) and 1 + R/|Z|: a triangle, and a straight line.
  EXPECT_LT((band.lower_db + 20 * (1 + 6 / magnitude).log10()).abs().maxCoeff(), 1e-12);
  EXPECT_LT((band.upper_db + 10 * (1 + (6 / magnitude).square()).log10()).abs().maxCoeff(), 1e-12);
}

TEST(GuaranteedBand, HoldsEveryPassivePhaseAndIsTight) {
  std::mt19937_64 random(7);
  std::uniform_real_distribution<double> part(-1, 1);
  for (int round = 0; round < 200; ++round) {
    const double magnitude = std::exp(2 * part(random));
    // Complex sources, also strongly reactive ones.
    const TheveninSamples from{
        ComplexArray::Constant(1, Complex(std::abs(part(random)), part(random))), {}};
    const TheveninSamples to{
        ComplexArray::Constant(1, Complex(3 * std::abs(part(random)), 3 * part(random))), {}};
    const auto grid = grid_of(Array::Constant(1, 1000));
    const auto band = guaranteed_band(grid, Array::Constant(1, magnitude), from, to);
    double lowest = INFINITY;
    double highest = -INFINITY;
    for (int step = 0; step <= 2000; ++step) {
      const double phase = (-90 + 180.0 * step / 2000) * degree;
      const ComplexArray load = ComplexArray::Constant(1, std::polar(magnitude, phase));
      const double db = 10 * std::log10(std::norm(load[0] + from.output_ohm[0]) /
                                        std::norm(load[0] + to.output_ohm[0]));
      lowest = std::min(lowest, db);
      highest = std::max(highest, db);
    }
    EXPECT_LE(band.lower_db[0], lowest + 1e-12);
    EXPECT_GE(band.upper_db[0], highest - 1e-12);
    EXPECT_NEAR(band.lower_db[0], lowest, 1e-3);
    EXPECT_NEAR(band.upper_db[0], highest, 1e-3);
  }
}

}  // namespace
}  // namespace ohmtilt
