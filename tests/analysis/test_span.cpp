#include <cmath>

#include <ohmtilt/analysis/deviation/span.h>
#include <ohmtilt/text/error.h>

#include "tests/analysis/sources.h"
#include "tests/support.h"

namespace ohmtilt {
namespace {

using test::j;
using test::ohms;

ComplexArray two(Complex a, Complex b) {
  ComplexArray z(2);
  z << a, b;
  return z;
}

TEST(SpanOverResistance, IsTheSpanOfTheDeviation) {
  const Array hz = log_grid({20, 20000}, 77);  // no multiple of any vector width
  ComplexArray load(77);
  for (Eigen::Index i = 0; i < 77; ++i)
    load[i] = 10.0 + 20.0 / (1.0 + 2.0 * j * (hz[i] / 900 - 900 / hz[i]));
  const TheveninSamples from{ComplexArray::Constant(77, Complex(1, -0.5)),
                             ComplexArray::Constant(77, 0.2)};
  const SpanOverResistance span(load, from);
  const DeviationGrid grid{hz, Array(0), NoAnchor{}};
  for (const double ohm : {0.0, 0.3, 6.0, 120.0, 1e6})
    EXPECT_NEAR(span.span_db(ohm), deviation(grid, load, from, ohms(ohm, 77)).span_db, 1e-11)
        << ohm;
}

TEST(LargestSource, SolvesTwoResistorsInClosedForm) {
  // Loads 4 and 16 ohm: span = 20 lg(4 (16 + R) ... ) so R = (10^(X/20) - 1) / (1/4 -
  // 10^(X/20)/16).
  const SpanOverResistance span(two(4, 16), ohms(0, 2));
  const double ratio = std::pow(10.0, 1.0 / 20);
  const auto found = largest_source(span, 0, 1);
  ASSERT_TRUE(found.ohm);
  EXPECT_NEAR(*found.ohm, (ratio - 1) / (1.0 / 4 - ratio / 16), 1e-9);
  EXPECT_LE(span.span_db(*found.ohm), 1 + 1e-12);
}

TEST(LargestSource, FindsTheFirstCrossingOfASpanThatFallsAgain) {
  // r against j r differ most at R = r: 10 lg((1 + 1)^2 / (1 + 1)) = 3.0103 dB, and less on both
  // sides.
  const SpanOverResistance span(two(10, 10.0 * j), ohms(0, 2));
  EXPECT_NEAR(span.span_db(10), 10 * std::log10(2.0), 1e-12);
  EXPECT_LT(span.span_db(100), span.span_db(10));
  const auto found = largest_source(span, 0, 2);
  ASSERT_TRUE(found.ohm);
  EXPECT_LT(*found.ohm, 10);
  EXPECT_NEAR(span.span_db(*found.ohm), 2, 1e-9);
}

TEST(LargestSource, CatchesAPeakThatBarelyReachesTheLimit) {
  const SpanOverResistance span(two(10, 10.0 * j), ohms(0, 2));
  const double limit = 10 * std::log10(2.0) - 1e-9;  // above every scan point, below the peak
  const auto found = largest_source(span, 0, limit);
  ASSERT_TRUE(found.ohm);
  EXPECT_NEAR(*found.ohm, 10, 0.01);
  EXPECT_FALSE(largest_source(span, 0, 10 * std::log10(2.0) + 1e-6).ohm);
}

TEST(LargestSource, BeginsAtThePresentSource) {
  const SpanOverResistance span(two(4, 16), ohms(5, 2));
  EXPECT_NEAR(span.span_db(5), 0, 1e-12);
  const auto found = largest_source(span, 5, 0.5);
  ASSERT_TRUE(found.ohm);
  EXPECT_GT(*found.ohm, 5);
  EXPECT_NEAR(span.span_db(*found.ohm), 0.5, 1e-9);
}

TEST(LargestSource, HasNoneWhereNothingReachesOrTheStartIsBeyond) {
  const auto flat = largest_source(SpanOverResistance(two(32, 32), ohms(0, 2)), 0, 0.1);
  EXPECT_FALSE(flat.ohm);
  EXPECT_FALSE(flat.start_exceeds);
  const TheveninSamples capacitor{two(-100.0 * j, -1.0 * j), {}};
  const auto beyond = largest_source(SpanOverResistance(two(16, 16), capacitor), 0, 0.5);
  EXPECT_FALSE(beyond.ohm);
  EXPECT_TRUE(beyond.start_exceeds);
}

TEST(LargestSource, RefusesALimitThatIsNone) {
  const SpanOverResistance span(two(4, 16), ohms(0, 2));
  for (const double limit : {0.0, -1.0, double(NAN), double(INFINITY)})
    EXPECT_THROW(largest_source(span, 0, limit), InputError);
}

}  // namespace
}  // namespace ohmtilt
