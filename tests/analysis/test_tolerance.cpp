#include <gtest/gtest.h>
#include <tbb/task_arena.h>

#include <ohmtilt/analysis/tolerance/tolerance.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/chain/chain.h>
#include <ohmtilt/circuit/solver.h>
#include <ohmtilt/text/error.h>

#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

Part with_tolerance(Part part, double percent) {
  part.tolerance_percent = percent;
  return part;
}

Circuit circuit_of(std::vector<Part> parts, std::vector<Port> ports) {
  CircuitDraft draft;
  draft.title = "test";
  draft.reference = "0";
  draft.ports = std::move(ports);
  draft.parts = std::move(parts);
  return Circuit(std::move(draft));
}

Chain pad_chain(PadTopology topology, std::vector<double> ohm, double percent,
                double output_henry = 0) {
  Source source;
  source.output_ohm = 0;
  source.output_henry = output_henry;
  return Chain("pad", source, {Pad{topology, std::move(ohm), percent}});
}

const Array one_kilohertz = Array::Constant(1, 1000);

/// A load with a resonance, on the grid.
TolerancedComparison comparison_of(const Chain& chain, Eigen::Index points = 60,
                                   const Anchor& anchor = AnchorFrequency{}) {
  const DeviationGrid grid = deviation_grid({}, points, anchor, {10, 30000});
  const Array hz = grid.all_hz();
  ComplexArray load(hz.size());
  for (Eigen::Index i = 0; i < hz.size(); ++i) {
    const double detuning = hz[i] / 1500 - 1500 / hz[i];
    load[i] = 12. + 40. / Complex(1, 2 * detuning) + Complex(0, hz[i] * 2e-4);
  }
  return {grid, load, std::nullopt, resistive_source(0.3), thevenin_source(chain)};
}

// A. K. Sawhney, A Course in Mechanical Measurements and Instrumentation, example 3.6 p. 69:
// 37, 75 and 50 ohm in series, each 5 %: 162 ohm with a limiting error of 8.1 ohm.
TEST(WorstCase, OfResistorsInSeries) {
  const Circuit circuit = circuit_of({with_tolerance(resistor("R1", "a", "b", 37), 5),
                                      with_tolerance(resistor("R2", "b", "c", 75), 5),
                                      with_tolerance(resistor("R3", "c", "0", 50), 5)},
                                     {{"in", "a", "0"}});
  const CircuitWorstCase found = circuit_worst_case(circuit, one_kilohertz);
  EXPECT_NEAR(found.impedance_ohm.lowest[0], 162 - 8.1, 1e-9);
  EXPECT_NEAR(found.impedance_ohm.highest[0], 162 + 8.1, 1e-9);
}

struct Attenuator {
  const char* name;
  std::vector<Part> parts;
  double nominal_db, percent, worst_low_db, worst_high_db, sigma_db;
};

// Errors of attenuators computed with NumPy: corners enumerated, uniform distribution, 20,000
// draws.
std::vector<Attenuator> attenuators() {
  const auto divider = [] {
    return std::vector<Part>{resistor("Ra", "a", "b", 90.9), resistor("Rb", "b", "0", 10)};
  };
  return {{"divider 0.1 %", divider(), -20.07782, 0.1, -0.01565, 0.01565, 0.006389},
          {"divider 1 %", divider(), -20.07782, 1, -0.15666, 0.15635, 0.063891},
          {"divider 5 %", divider(), -20.07782, 5, -0.78694, 0.77917, 0.319455},
          {"L 33 / 3.3 into 16",
           {resistor("Rs", "a", "b", 33), resistor("Rp", "b", "0", 3.3),
            resistor("load", "b", "0", 16)},
           -22.32053,
           1,
           -0.14680,
           0.14662,
           0.060153},
          {"T 491/121/491, 600 ohm",
           {resistor("source", "a", "s", 600), resistor("R1", "s", "m", 491),
            resistor("R2", "m", "0", 121), resistor("R3", "m", "b", 491),
            resistor("load", "b", "0", 600)},
           -20.01377 - 20 * std::log10(2.0),  // inserted between 600 ohm and 600 ohm
           1,
           -0.14251,
           0.14185,
           0.050267}};
}

Circuit circuit_of(const Attenuator& attenuator) {
  std::vector<Part> parts = attenuator.parts;
  for (auto& part : parts)
    if (part.name != "load" && part.name != "source") part.tolerance_percent = attenuator.percent;
  return circuit_of(std::move(parts), {{"in", "a", "0"}, {"out", "b", "0"}});
}

TEST(WorstCase, OfAttenuatorsIsThatOfTheTable) {
  for (const auto& one : attenuators()) {
    SCOPED_TRACE(one.name);
    const Circuit circuit = circuit_of(one);
    const double nominal_db =
        20 * std::log10(std::abs(transfers(circuit, one_kilohertz)[0].volt[0]));
    const auto found = circuit_worst_case(circuit, one_kilohertz).transfer.at(0);
    EXPECT_EQ(found.port, "out");
    EXPECT_NEAR(nominal_db, one.nominal_db, 6e-6);
    EXPECT_NEAR(found.db.lowest[0] - nominal_db, one.worst_low_db, 6e-6);
    EXPECT_NEAR(found.db.highest[0] - nominal_db, one.worst_high_db, 6e-6);
  }
}

// Two equal sensitivities and uniform values give a triangular density of half width a = sigma
// sqrt(6), whose 95 % lie below a (1 - sqrt(0.1)). The sigmas are the table's.
TEST(Percentiles, OfTheDividerAreThoseOfATriangle) {
  ToleranceOptions options;
  options.samples = 100000;
  for (const auto& one : attenuators()) {
    if (std::string(one.name).find("divider") != 0) continue;
    SCOPED_TRACE(one.name);
    const auto found = circuit_tolerance(circuit_of(one), one_kilohertz, {}, options).transfer[0];
    const double expected_db = one.sigma_db * std::sqrt(6.0) * (1 - std::sqrt(0.1));
    EXPECT_NEAR(found.db.p50[0], one.nominal_db, 0.02 * one.sigma_db);
    EXPECT_NEAR(found.db.p95[0] - found.db.p05[0], 2 * expected_db, 0.02 * 2 * expected_db);
  }
}

// Two channels of the 1 % divider: the difference is the sum of four equal uniform deviates (Irwin
// and Hall 1927), of which 95 % lie within 2 - 0.6^(1/4) half widths of the middle; the table's
// sigma between two channels is 0.090355 dB, that of the sum sqrt(1/3).
TEST(Channels, OfTheDividerDifferAsTheSumOfFourUniformDeviates) {
  TolerancedComparison comparison =
      comparison_of(pad_chain(PadTopology::L, {90.9, 10}, 1), 5, NoAnchor{});
  comparison.load_ohm.fill(1e12);
  ToleranceOptions options;
  options.samples = 200000;
  const auto found = deviation_tolerance(comparison, options);
  const double expected_db = 0.090355 / std::sqrt(1 / 3.) * (2 - std::pow(0.6, 0.25));
  EXPECT_NEAR(found.channel_difference_db[2], expected_db, 0.01 * expected_db);
  // Worst case between two channels: 0.3130 dB.
  EXPECT_NEAR(deviation_worst_case(comparison).channel_difference_db[2], 0.3130, 5e-5);
}

// NumPy: numpy.percentile(range(1, 11), [5, 50, 95]) = 1.45, 5.5, 9.55 (definition 7).
TEST(Percentiles, LieBetweenOrderStatistics) {
  Array values(10);
  values << 3, 1, 10, 7, 2, 9, 4, 8, 6, 5;
  const auto pairs = order_pairs(values, {0, 0.05, 0.5, 0.95, 1});
  EXPECT_DOUBLE_EQ(pairs[0].interpolated(), 1);
  EXPECT_DOUBLE_EQ(pairs[1].interpolated(), 1.45);
  EXPECT_DOUBLE_EQ(pairs[2].interpolated(), 5.5);
  EXPECT_DOUBLE_EQ(pairs[3].interpolated(), 9.55);
  EXPECT_DOUBLE_EQ(pairs[4].interpolated(), 10);
  Array one = Array::Constant(1, 4);
  EXPECT_DOUBLE_EQ(order_pairs(one, {0.95})[0].interpolated(), 4);
}

void expect_equal(const Array& a, const Array& b) { EXPECT_TRUE((a == b).all()); }

TEST(Tolerance, DoesNotDependOnTheNumberOfThreads) {
  const auto comparison = comparison_of(pad_chain(PadTopology::T, {18, 9.1, 4.7}, 5));
  const auto run = [&](int threads) {
    DeviationTolerance found;
    tbb::task_arena(threads).execute([&] { found = deviation_tolerance(comparison, {}); });
    return found;
  };
  const auto one = run(1), two = run(2);
  expect_equal(one.deviation_db.p05, two.deviation_db.p05);
  expect_equal(one.deviation_db.p95, two.deviation_db.p95);
  expect_equal(one.channel_difference_db, two.channel_difference_db);
  EXPECT_EQ(one.span_db.p95, two.span_db.p95);
  ToleranceOptions other;
  other.seed = 2;
  EXPECT_FALSE(
      (deviation_tolerance(comparison, other).deviation_db.p05 == one.deviation_db.p05).all());
}

// Corners bound every draw where a network of resistors feeds any load.
TEST(Tolerance, StaysWithinTheWorstCase) {
  for (const auto& chain :
       {pad_chain(PadTopology::L, {18, 9.1}, 10), pad_chain(PadTopology::pi, {100, 33, 47}, 10),
        pad_chain(PadTopology::bridged_T, {50, 50, 39, 68}, 10)}) {
    for (const Anchor& anchor :
         {Anchor(NoAnchor{}), Anchor(AnchorFrequency{}), Anchor(AnchorBand{})}) {
      const auto comparison = comparison_of(chain, 30, anchor);
      const auto drawn = deviation_tolerance(comparison);
      const auto worst = deviation_worst_case(comparison);
      EXPECT_TRUE((drawn.deviation_db.p05 >= worst.deviation_db.lowest - 1e-9).all());
      EXPECT_TRUE((drawn.deviation_db.p95 <= worst.deviation_db.highest + 1e-9).all());
      EXPECT_TRUE((drawn.deviation_db.p05 <= drawn.deviation_db.p50).all());
      EXPECT_TRUE((drawn.channel_difference_db <= worst.channel_difference_db + 1e-9).all());
    }
  }
}

// Draws in place of frequencies, and draw after draw: one femtohenry is enough to take the second
// way.
TEST(Tolerance, IsTheSameByBothWaysThroughTheSolver) {
  const auto fast = deviation_tolerance(comparison_of(pad_chain(PadTopology::L, {18, 9.1}, 5)));
  const auto slow =
      deviation_tolerance(comparison_of(pad_chain(PadTopology::L, {18, 9.1}, 5, 1e-15)));
  EXPECT_LT((fast.deviation_db.p05 - slow.deviation_db.p05).abs().maxCoeff(), 1e-9);
  EXPECT_LT((fast.deviation_db.p95 - slow.deviation_db.p95).abs().maxCoeff(), 1e-9);
  EXPECT_LT((fast.channel_difference_db - slow.channel_difference_db).abs().maxCoeff(), 1e-9);
}

// The median of a small tolerance is the nominal deviation; at the anchor nothing varies.
TEST(Tolerance, SurroundsTheNominalDeviation) {
  const auto comparison =
      comparison_of(pad_chain(PadTopology::L, {18, 9.1}, 0.1), 31, AnchorFrequency{20});
  const Array hz = comparison.grid.all_hz();
  const Array nominal_db =
      deviation(comparison.grid, comparison.load_ohm, comparison.from.at(hz), comparison.to.at(hz))
          .deviation_db;
  const auto found = deviation_tolerance(comparison);
  EXPECT_LT((found.deviation_db.p50 - nominal_db).abs().maxCoeff(), 1e-3);
  EXPECT_NEAR(found.deviation_db.p05[0], 0, 1e-12);
  EXPECT_NEAR(found.deviation_db.p95[0], 0, 1e-12);
  const double nominal_span_db = nominal_db.maxCoeff() - nominal_db.minCoeff();
  EXPECT_NEAR(found.span_db.p50, nominal_span_db, 1e-3);
  EXPECT_LT(found.span_db.p05, found.span_db.p95);
}

// A curve varies as a whole: |Z| is uniform within its tolerance.
TEST(Tolerance, OfACurveIsThatOfItsImpedance) {
  const OnePort curve({1, 1e5}, [](const Array& hz) -> ComplexArray {
    return ComplexArray::Constant(hz.size(), Complex(3, 4));
  });
  const Circuit circuit =
      circuit_of({with_tolerance(curve_part("Z", "a", "0", curve), 10)}, {{"in", "a", "0"}});
  const auto found = circuit_tolerance(circuit, one_kilohertz).impedance_ohm;
  EXPECT_NEAR(found.p05[0], 5 * (1 - 0.09), 0.01);
  EXPECT_NEAR(found.p50[0], 5, 0.01);
  EXPECT_NEAR(found.p95[0], 5 * (1 + 0.09), 0.01);
  const auto worst = circuit_worst_case(circuit, one_kilohertz).impedance_ohm;
  EXPECT_NEAR(worst.lowest[0], 4.5, 1e-12);
  EXPECT_NEAR(worst.highest[0], 5.5, 1e-12);
}

// An earphone's circuit that varies: its own impedance in both terms of the deviation.
TEST(Tolerance, OfAnEarphoneCircuitMovesTheDeviation) {
  TolerancedComparison comparison = comparison_of(pad_chain(PadTopology::L, {18, 9.1}, 0));
  comparison.circuit = circuit_of({with_tolerance(resistor("R", "a", "b", 16), 5),
                                   with_tolerance(inductor("L", "b", "0", 1e-3), 5)},
                                  {{"terminals", "a", "0"}});
  const auto found = deviation_tolerance(comparison);
  const auto worst = deviation_worst_case(comparison);
  EXPECT_TRUE((found.deviation_db.p05 >= worst.deviation_db.lowest - 1e-9).all());
  EXPECT_GT(found.deviation_db.p95[59] - found.deviation_db.p05[59], 0.001);
}

TEST(Tolerance, RefusesWhatItCannotAnswer) {
  const auto comparison = comparison_of(pad_chain(PadTopology::L, {18, 9.1}, 1));
  ToleranceOptions options;
  for (const long samples : {-1L, 0L, 9L, 1000001L}) {
    options.samples = samples;
    EXPECT_THROW(deviation_tolerance(comparison, options), InputError);
  }
  EXPECT_THROW(deviation_tolerance(comparison_of(pad_chain(PadTopology::L, {18, 9.1}, 0))),
               InputError);
  EXPECT_FALSE(has_tolerances(resistive_source(3)));
  std::vector<Part> many;
  for (int i = 0; i < 15; ++i)
    many.push_back(with_tolerance(resistor("R" + std::to_string(i), "a", "0", 100), 1));
  EXPECT_THROW(circuit_worst_case(circuit_of(many, {{"in", "a", "0"}}), one_kilohertz), InputError);
}

TEST(Tolerance, TellsHowFarItIs) {
  ToleranceOptions options;
  std::vector<double> told;
  options.progress = [&](double done) { told.push_back(done); };
  deviation_tolerance(comparison_of(pad_chain(PadTopology::L, {18, 9.1}, 1), 300), options);
  ASSERT_GE(told.size(), 2u);
  EXPECT_TRUE(std::is_sorted(told.begin(), told.end()));
  EXPECT_EQ(told.back(), 1);
}

}  // namespace
}  // namespace ohmtilt
