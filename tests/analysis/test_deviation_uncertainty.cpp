// A curve's uncertainty carried into the deviation: against derivatives taken by differences (GUM
// 5.1.3, note 2), and in its limits. The draws by NumPy are in tests/outside.
#include <gtest/gtest.h>

#include <ohmtilt/analysis/deviation/comparison.h>
#include <ohmtilt/analysis/deviation/deviation_uncertainty.h>
#include <cmath>
#include <numbers>
#include <random>

namespace ohmtilt {
namespace {

/// 16 ohm with a resonance at 2 kHz (invented), 61 points over three decades.
ImpedanceCurve curve(double relative_uncertainty, bool with_phase = true) {
  const Array hz = log_grid({20, 20000}, 61);
  ComplexArray z(hz.size());
  for (Eigen::Index i = 0; i < hz.size(); ++i)
    z[i] = 16.0 + 30.0 / (1.0 + Complex(0, 2) * (hz[i] / 2000 - 2000 / hz[i]));
  const Array degrees = z.arg() * (180 / std::numbers::pi);
  return {{}, hz, z.abs(), with_phase ? degrees : Array(), relative_uncertainty * z.abs()};
}

ComparedSource compared(const ImpedanceCurve& measured, double from_ohm, double to_ohm,
                        const Anchor& anchor = AnchorFrequency{}) {
  ComparisonOptions options;
  options.points = 31;  // every second point of the curve
  options.anchor = anchor;
  return compare_sources(earphone_from_curve(measured), resistive_source(from_ohm),
                         {resistive_source(to_ohm)}, options)
      .cases[0];
}

/// The part that the file states, as one standard uncertainty.
Array standard_db(const ComparedSource& source) { return source.interval->parts.stated_db / 1.96; }

double change_db(Complex z, double from_ohm, double to_ohm) {
  return 20 * std::log10(std::abs((z + from_ohm) / (z + to_ohm)));
}

/// Half the change for u more and less along each axis, added in squares.
double by_differences(Complex z, double u, double from_ohm, double to_ohm) {
  double sum = 0;
  for (const Complex step : {Complex(u, 0), Complex(0, u)})
    sum += std::pow(
        (change_db(z + step, from_ohm, to_ohm) - change_db(z - step, from_ohm, to_ohm)) / 2, 2);
  return std::sqrt(sum);
}

// What a page asks again and again.
TEST(DeviationUncertainty, ErrorsWorkedOutBeforeGiveTheSameBits) {
  for (const bool with_phase : {true, false}) {
    const Earphone earphone = earphone_from_curve(curve(0.01, with_phase));
    const std::optional<CurveErrors> errors = errors_of(earphone);
    ComparisonOptions options;
    const auto interval = [&] {
      return *compare_sources(earphone, resistive_source(0), {resistive_source(6)}, options)
                  .cases[0]
                  .interval;
    };
    const DeviationInterval here = interval();
    options.errors = &*errors;
    const DeviationInterval before = interval();
    EXPECT_TRUE((here.lower_95_db == before.lower_95_db).all());
    EXPECT_TRUE((here.upper_95_db == before.upper_95_db).all());
    EXPECT_EQ(here.whole_95_db, before.whole_95_db);
  }
}

TEST(DeviationUncertainty, EqualsNumericDerivatives) {
  const ImpedanceCurve measured = curve(1e-4);
  const Array u = standard_db(compared(measured, 0.3, 6, NoAnchor{}));
  ASSERT_EQ(u.size(), 31);
  for (Eigen::Index i = 0; i < u.size(); ++i) {
    const double expected =
        by_differences(measured.impedance_ohm()[2 * i], measured.uncertainty_ohm()[2 * i], 0.3, 6);
    EXPECT_NEAR(u[i] / expected, 1, 1e-6) << i;
  }
}

TEST(DeviationUncertainty, AddsTheAnchorsInSquaresFarFromIt) {
  const ImpedanceCurve measured = curve(1e-4);
  const double anchor_hz = measured.frequency_hz()[34];
  const Array u = standard_db(compared(measured, 0.3, 6, AnchorFrequency{anchor_hz}));
  const double at_anchor =
      by_differences(measured.impedance_ohm()[34], measured.uncertainty_ohm()[34], 0.3, 6);
  for (Eigen::Index i = 0; i < u.size(); ++i) {
    const double here =
        by_differences(measured.impedance_ohm()[2 * i], measured.uncertainty_ohm()[2 * i], 0.3, 6);
    if (i == 17) continue;
    EXPECT_NEAR(u[i] / std::hypot(here, at_anchor), 1, 1e-6) << i;
  }
  EXPECT_LT(u[17], 1e-9);  // there the deviation is zero by definition
}

TEST(DeviationUncertainty, IsNothingWithoutASourceAndWithoutAnUncertainty) {
  EXPECT_EQ(standard_db(compared(curve(0.01), 6, 6)).maxCoeff(), 0);
  EXPECT_EQ(standard_db(compared(curve(0), 0, 6)).maxCoeff(), 0);
  EXPECT_EQ(standard_db(compared(curve(0.01).with_phase(Array::Zero(61)), 0, 0)).size(), 31);
}

// A source far above the load drives a current: 20 lg |Z| then, so 8.686 u/|Z|.
TEST(DeviationUncertainty, OfACurrentDriveIsThatOfTheMagnitudeInDecibels) {
  const Array u = standard_db(compared(curve(0.001), 0, 1e9, NoAnchor{}));
  EXPECT_NEAR(u.minCoeff(), 20 / std::log(10.0) * 0.001, 1e-8);
  EXPECT_NEAR(u.maxCoeff(), 20 / std::log(10.0) * 0.001, 1e-8);
}

// Every |Z| too large by the same factor: what the reference resistor's error does. Its effect is
// within the stated one wherever source and load are passive.
TEST(DeviationUncertainty, CoversACommonErrorOfScale) {
  const double scale = 1e-3;
  const ImpedanceCurve measured = curve(scale);
  const ImpedanceCurve scaled({}, measured.frequency_hz(), measured.magnitude_ohm() * (1 + scale),
                              measured.phase_deg());
  for (const Anchor& anchor :
       {Anchor(AnchorFrequency{1000}), Anchor(AnchorBand{300, 3000}), Anchor(NoAnchor{})})
    for (const double to_ohm : {1.0, 6.0, 30.0, 120.0}) {
      const ComparedSource stated = compared(measured, 0.3, to_ohm, anchor);
      const ComparedSource other = compared(scaled, 0.3, to_ohm, anchor);
      const Array moved = (other.deviation.deviation_db - stated.deviation.deviation_db).abs();
      const double rounding = 1.01;
      EXPECT_TRUE((moved <= standard_db(stated) * rounding + 1e-9).all()) << to_ohm;
    }
}

TEST(DeviationUncertainty, OfAMagnitudeAloneIsStatedToo) {
  const ComparedSource both = compared(curve(0.01), 0, 6);
  const ComparedSource magnitude = compared(curve(0.01, false), 0, 6);
  EXPECT_TRUE(magnitude.band.has_value());
  ASSERT_EQ(standard_db(magnitude).size(), 31);
  EXPECT_NEAR(standard_db(magnitude)[15] / standard_db(both)[15], 1, 0.05);
}

// The phase is worked out from the magnitude, so its error follows from that of all magnitudes: 400
// draws of independent errors, each with its own minimum phase, scatter by what is stated, on the
// average over frequency.
TEST(DeviationUncertainty, OfAMagnitudeAloneMatchesDrawsWithTheirOwnMinimumPhase) {
  const double relative = 1e-3;
  const ImpedanceCurve measured = curve(relative, false);
  const ComparedSource stated = compared(measured, 0, 6, NoAnchor{});
  std::mt19937_64 generator(1);
  std::normal_distribution<double> normal;
  Array squares = Array::Zero(31);
  constexpr int draws = 400;
  for (int draw = 0; draw < draws; ++draw) {
    const Array ohm = measured.magnitude_ohm().unaryExpr(
        [&](double m) { return m * (1 + relative * normal(generator)); });
    const ComparedSource other =
        compared(ImpedanceCurve({}, measured.frequency_hz(), ohm), 0, 6, NoAnchor{});
    squares += (other.deviation.deviation_db - stated.deviation.deviation_db).square();
  }
  const Array scatter_db = (squares / draws).sqrt();
  const double ratio = (scatter_db / standard_db(stated)).mean();
  RecordProperty("scatter_over_stated", std::to_string(ratio));
  EXPECT_LT(ratio, 1.1);
  EXPECT_GT(ratio, 0.8);
}

TEST(DeviationUncertainty, IsZeroWhereTheCurveStatesNone) {
  const ImpedanceCurve stated = curve(0.01);
  const ImpedanceCurve bare({}, stated.frequency_hz(), stated.magnitude_ohm(), stated.phase_deg());
  EXPECT_EQ(standard_db(compared(bare, 0, 6)).maxCoeff(), 0);
}

}  // namespace
}  // namespace ohmtilt
