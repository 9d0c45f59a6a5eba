#include <cmath>
#include <numbers>

#include <ohmtilt/base/frequency_grid.h>
#include <ohmtilt/design/equalizer/biquad.h>
#include <ohmtilt/text/error.h>

#include "tests/support.h"

namespace ohmtilt {
namespace {

using Row = std::map<std::string, std::string>;

double column(const Row& row, const std::string& name) { return std::stod(row.at(name)); }

/// Q of a row, which may give it as a bandwidth in octaves or a shelf slope instead: the cookbook's
/// formulas for alpha.
double q_of(const Row& row) {
  const std::string& shape = row.at("shape");
  const double value = std::stod(shape.substr(shape.find('=') + 1));
  const double w0 = 2 * std::numbers::pi * column(row, "f0_Hz") / column(row, "fs_Hz");
  const double a = std::pow(10, column(row, "gain_dB") / 40);
  if (shape[0] == 'B')
    return 1 / (2 * std::sinh(std::numbers::ln2 / 2 * value * w0 / std::sin(w0)));
  if (shape[0] == 'S') return 1 / std::sqrt((a + 1 / a) * (1 / value - 1) + 2);
  return value;
}

/// The row as a filter; high-pass, low-pass and their like share the denominator of a peaking
/// filter of 0 dB.
Filter filter_of(const Row& row) {
  const std::string& type = row.at("type");
  const FilterKind kind = type == "low"    ? FilterKind::low_shelf
                          : type == "high" ? FilterKind::high_shelf
                                           : FilterKind::peaking;
  return {kind, column(row, "f0_Hz"), column(row, "gain_dB"), q_of(row)};
}

bool is_equaliser(const Row& row) {
  return row.at("type") == "peak" || row.at("type") == "low" || row.at("type") == "high";
}

// 40-digit arithmetic from the formulas of the W3C Audio EQ Cookbook; source line in the file.
TEST(Biquad, HasTheCookbookCoefficients) {
  int equalisers = 0;
  for (const auto& row : test::csv_rows(test::data("biquad_cookbook.csv"))) {
    const Biquad found = biquad(filter_of(row), column(row, "fs_Hz"));
    EXPECT_EQ(found.a[0], 1);
    EXPECT_NEAR(found.a[1], column(row, "a1"), 1e-12);
    EXPECT_NEAR(found.a[2], column(row, "a2"), 1e-12);
    if (!is_equaliser(row)) continue;
    EXPECT_NEAR(found.b[0], column(row, "b0"), 1e-12);
    EXPECT_NEAR(found.b[1], column(row, "b1"), 1e-12);
    EXPECT_NEAR(found.b[2], column(row, "b2"), 1e-12);
    ++equalisers;
  }
  EXPECT_EQ(equalisers, 10);
}

// ITU-R BS.1770, second stage at 48 kHz: the printed denominator. Its frequency and Q are from
// memory; they reproduce all printed digits.
TEST(Biquad, HasTheDenominatorOfTheLoudnessStandard) {
  const Biquad found =
      biquad({FilterKind::peaking, 38.13547087602444, 0, 0.5003270373238773}, 48000);
  EXPECT_NEAR(found.a[1], -1.99004745483398, 5e-15);
  EXPECT_NEAR(found.a[2], 0.99007225036621, 5e-15);
}

TEST(Biquad, ReachesItsGainsExactly) {
  for (const auto& row : test::csv_rows(test::data("biquad_cookbook.csv"))) {
    if (!is_equaliser(row)) continue;
    const double rate = column(row, "fs_Hz");
    Array hz(3);
    hz << 0, column(row, "f0_Hz"), rate / 2;
    const Array db = response_db(filter_of(row), SampledGrid(hz, rate));
    EXPECT_NEAR(db[0], column(row, "dB_at_0"), 1e-12);
    EXPECT_NEAR(db[1], column(row, "dB_at_f0"), 1e-12);
    EXPECT_NEAR(db[2], column(row, "dB_at_fs_half"), 1e-12);
  }
}

/// The transfer function of the coefficients, by its definition.
double db_by_definition(const Biquad& filter, double hz, double rate) {
  const Complex z = std::polar(1.0, -2 * std::numbers::pi * hz / rate);
  const auto value = [&](const std::array<double, 3>& p) { return p[0] + z * (p[1] + z * p[2]); };
  return 20 * std::log10(std::abs(value(filter.b) / value(filter.a)));
}

TEST(Biquad, RespondsAsItsCoefficientsDo) {
  const Array hz = log_grid({20, 23999}, 60);
  for (const auto kind : {FilterKind::peaking, FilterKind::low_shelf, FilterKind::high_shelf})
    for (const double gain_db : {-9.0, 0.0, 4.0})
      for (const double f0 : {30.0, 900.0, 21000.0}) {
        const Filter filter{kind, f0, gain_db, 0.6};
        const Array db = response_db(filter, SampledGrid(hz, 48000));
        for (Eigen::Index i = 0; i < hz.size(); ++i)
          EXPECT_NEAR(db[i], db_by_definition(biquad(filter, 48000), hz[i], 48000), 1e-8);
      }
}

TEST(Biquad, OfOppositeGainsCancels) {
  const SampledGrid grid(log_grid({1, 22000}, 100), 44100);
  for (const auto kind : {FilterKind::peaking, FilterKind::low_shelf, FilterKind::high_shelf}) {
    const Array sum =
        response_db({kind, 700, 7, 0.7}, grid) + response_db({kind, 700, -7, 0.7}, grid);
    EXPECT_LT(sum.abs().maxCoeff(), 1e-12);
  }
}

TEST(Biquad, KeepsItsDigitsFarBelowItsFrequency) {
  // With s = j x, x << 1, |H|^2 = 1 + (A^2 - 1/A^2) x^2 / Q^2: worked out by hand from the
  // cookbook's prototype, x = tan(pi f/fs) / tan(pi f0/fs).
  const double x = std::tan(std::numbers::pi / 48000) / std::tan(std::numbers::pi * 10000 / 48000);
  const double expected_db =
      10 / std::numbers::ln10 * (std::pow(10, 0.6) - std::pow(10, -0.6)) * x * x;
  const Array peak =
      response_db({FilterKind::peaking, 10000, 12, 1}, SampledGrid(Array::Constant(1, 1), 48000));
  EXPECT_NEAR(peak[0], expected_db, 5e-15);
  EXPECT_GT(expected_db, 1e-7);
  const SampledGrid lowest(Array::Constant(1, 1e-6), 768000);
  const Array shelf = response_db({FilterKind::low_shelf, 20, 6, 0.7}, lowest);
  EXPECT_NEAR(shelf[0], 6, 1e-12);
}

TEST(Biquad, AShelfIsMonotoneUpToQOfOneOverRootTwo) {
  const SampledGrid grid(log_grid({1, 23999}, 400), 48000);
  for (const double gain_db : {-12.0, 12.0}) {
    const Array db = response_db({FilterKind::high_shelf, 1000, gain_db, std::sqrt(0.5)}, grid);
    const Array steps = (db.tail(399) - db.head(399)) * (gain_db > 0 ? 1 : -1);
    EXPECT_GT(steps.minCoeff(), -1e-12);
  }
}

TEST(Biquad, HasTheSlopesOfItsResponse) {
  const SampledGrid grid(log_grid({20, 23000}, 40), 48000);
  for (const auto kind : {FilterKind::peaking, FilterKind::low_shelf, FilterKind::high_shelf}) {
    const Filter at{kind, 3000, 5, 0.6};
    const FilterSlopes slopes = response_slopes(at, grid);
    const double step = 1e-5;
    const auto change = [&](Filter more, Filter less) -> Array {
      return (response_db(more, grid) - response_db(less, grid)) / (2 * step);
    };
    const Array by_hz =
        change({kind, 3000 * std::exp(step), 5, 0.6}, {kind, 3000 * std::exp(-step), 5, 0.6});
    const Array by_gain = change({kind, 3000, 5 + step, 0.6}, {kind, 3000, 5 - step, 0.6});
    const Array by_q =
        change({kind, 3000, 5, 0.6 * std::exp(step)}, {kind, 3000, 5, 0.6 * std::exp(-step)});
    EXPECT_LT((slopes.by_ln_hz - by_hz).abs().maxCoeff(), 1e-8);
    EXPECT_LT((slopes.by_gain_db - by_gain).abs().maxCoeff(), 1e-8);
    EXPECT_LT((slopes.by_ln_q - by_q).abs().maxCoeff(), 1e-8);
  }
}

TEST(Biquad, RefusesWhatCannotBeMade) {
  EXPECT_THROW(biquad({FilterKind::peaking, 24000, 3, 1}, 48000), InputError);
  EXPECT_THROW(biquad({FilterKind::peaking, 0, 3, 1}, 48000), InputError);
  EXPECT_THROW(biquad({FilterKind::peaking, 100, 3, 0}, 48000), InputError);
  EXPECT_THROW(biquad({FilterKind::peaking, 100, NAN, 1}, 48000), InputError);
}

}  // namespace
}  // namespace ohmtilt
