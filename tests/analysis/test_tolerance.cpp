#include <gtest/gtest.h>
#include <tbb/task_arena.h>

#include <ohmtilt/analysis/tolerance/tolerance.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/chain/chain.h>
#include <ohmtilt/circuit/solver.h>
#include <ohmtilt/text/error.h>

#include <algorithm>
#include <cmath>
#include <numbers>

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
}

// ---- what belongs to a tolerance
// ---------------------------------------------------------------

Part detailed(Part part, double percent, ToleranceDetail detail) {
  part.tolerance_percent = percent;
  part.tolerance_detail = std::make_shared<const ToleranceDetail>(std::move(detail));
  return part;
}

ToleranceDetail group_of(const std::string& name, double matching_percent) {
  ToleranceDetail detail;
  detail.group = name;
  detail.matching_percent = matching_percent;
  return detail;
}

Circuit divider_of(const ToleranceDetail& detail, double percent) {
  return circuit_of({detailed(resistor("R1", "a", "b", 100), percent, detail),
                     detailed(resistor("R2", "b", "0", 100), percent, detail)},
                    {{"in", "a", "0"}, {"out", "b", "0"}});
}

// From a reel both resistors are off alike, so their ratio is not.
TEST(ToleranceGroup, OfOneReelKeepsTheRatio) {
  const auto found = circuit_tolerance(divider_of(group_of("reel", 0), 5), one_kilohertz);
  EXPECT_NEAR(found.transfer[0].db.p05[0], found.transfer[0].db.p95[0], 1e-12);
  EXPECT_NEAR(found.impedance_ohm.p95[0], 200 * (1 + 0.9 * 0.05), 0.05);
  const auto worst = circuit_worst_case(divider_of(group_of("reel", 0), 5), one_kilohertz);
  EXPECT_NEAR(worst.impedance_ohm.highest[0], 210, 1e-9);
  EXPECT_NEAR(worst.transfer[0].db.highest[0], worst.transfer[0].db.lowest[0], 1e-12);
}

// With a matching of m the ratio is at worst that of two resistors of m, seen
// from the common value: (1 + t) / (2 + 2 t - 2 m) with the common part at its
// lower end.
TEST(ToleranceGroup, MatchedWithinAPercentMovesTheRatioByThat) {
  const auto worst = circuit_worst_case(divider_of(group_of("network", 0.5), 5), one_kilohertz);
  const double low = 1 - 0.045;  // common part at its end
  const double ratio = (low + 0.005) / (2 * low);
  EXPECT_NEAR(worst.transfer[0].db.highest[0], 20 * std::log10(ratio), 1e-9);
  EXPECT_NEAR(worst.impedance_ohm.highest[0], 210, 1e-9);
}

Chain detailed_pad(const ToleranceDetail& detail) {
  Pad pad{PadTopology::L, {90.9, 10}, 1};
  pad.tolerance_detail = std::make_shared<const ToleranceDetail>(detail);
  Source source;
  return Chain("pad", source, {pad});
}

// Matched channels have the group in common: what is left is their own part.
// The textbook figure of unmatched ones is that of
// OfTheDividerDifferAsTheSumOfFourUniformDeviates.
TEST(Channels, OfAGroupDifferByItsMatchingOnly) {
  ToleranceOptions options;
  options.samples = 200000;
  const auto found_of = [&](const ToleranceDetail& detail) {
    TolerancedComparison comparison = comparison_of(detailed_pad(detail), 5, NoAnchor{});
    comparison.load_ohm.fill(1e12);
    return deviation_tolerance(comparison, options);
  };
  const double plain_db = 0.090355 / std::sqrt(1 / 3.) * (2 - std::pow(0.6, 0.25));
  const auto whole = found_of(group_of("set", 0));
  EXPECT_NEAR(whole.channel_difference_db[2], 0, 1e-12);
  const auto tenth = found_of(group_of("set", 0.1));
  EXPECT_NEAR(tenth.channel_difference_db[2], plain_db / 10, 0.01 * plain_db / 10);
  ToleranceDetail apart = group_of("set", 1);
  apart.group_in_one_channel = true;
  const auto unmatched = found_of(apart);
  EXPECT_NEAR(unmatched.channel_difference_db[2], plain_db, 0.01 * plain_db);
  EXPECT_EQ(unmatched.channel_difference_unmatched_db.size(), 0);
  EXPECT_EQ(tenth.channel_difference_unmatched_db.size(), 5);
}

// Drivers of 10 ohm +-5 % behind 10 ohm: the level moves by half of the
// deviation in ohm. Of the difference of two uniform deviates 95 % lie within
// (1 - sqrt(0.05)) of its largest, 10 %.
TEST(Channels, OfMatchedDriversAreComparedWithUnmatchedOnes) {
  TolerancedComparison comparison =
      comparison_of(pad_chain(PadTopology::series, {10}, 0), 5, NoAnchor{});
  comparison.circuit = circuit_of({detailed(resistor("R", "a", "0", 10), 5, group_of("pair", 0))},
                                  {{"terminals", "a", "0"}});
  ToleranceOptions options;
  options.samples = 200000;
  const auto found = deviation_tolerance(comparison, options);
  const double expected_db = 20 / std::log(10.0) * 0.5 * 0.1 * (1 - std::sqrt(0.05));
  EXPECT_NEAR(found.channel_difference_db[2], 0, 1e-12);
  EXPECT_NEAR(found.channel_difference_unmatched_db[2], expected_db, 0.01 * expected_db);
  EXPECT_NEAR(deviation_worst_case(comparison).channel_difference_db[2], 0, 1e-12);
}

// 5 % parts of which those within 1 % were sorted out lie anywhere alike in -5
// to -1 and 1 to 5 %: 5 % of them lie below -4.6 %.
TEST(ToleranceDistribution, OfSortedPartsHasAHole) {
  ToleranceDetail binned;
  binned.distribution = Distribution::binned;
  binned.sorted_out_percent = 1;
  ToleranceOptions options;
  options.samples = 100000;
  const Circuit circuit =
      circuit_of({detailed(resistor("R", "a", "0", 100), 5, binned)}, {{"in", "a", "0"}});
  const auto found = circuit_tolerance(circuit, one_kilohertz, {}, options).impedance_ohm;
  EXPECT_NEAR(found.p05[0], 95.4, 0.03);
  EXPECT_NEAR(found.p95[0], 104.6, 0.03);
  EXPECT_GE(std::abs(found.p50[0] - 100), 1 - 0.05);
}

TEST(ToleranceDistribution, OfAPartStandsBesideThatOfTheOthers) {
  ToleranceDetail normal;
  normal.distribution = Distribution::normal;
  ToleranceOptions options;
  options.samples = 100000;
  const auto p95 = [&](const ToleranceDetail& detail) {
    const Circuit circuit =
        circuit_of({detailed(resistor("R", "a", "0", 100), 3, detail)}, {{"in", "a", "0"}});
    return circuit_tolerance(circuit, one_kilohertz, {}, options).impedance_ohm.p95[0];
  };
  // 95 % of a normal distribution of sigma 1 % (cut at 3 sigma): 1.6449 sigma,
  // from any table.
  EXPECT_NEAR(p95(normal), 101.6449, 0.03);
  EXPECT_NEAR(p95({}), 102.7, 0.02);
}

// 1000 ppm/K from 20 deg C: at 20 to 70 deg C 0 to 5 % more; 1 W at 100 K/W 0
// to 10 % more.
TEST(Temperature, MovesAValueByItsCoefficient) {
  ToleranceDetail warm;
  warm.ppm_per_kelvin = 1000;
  warm.kelvin_per_watt = 100;
  const Circuit circuit =
      circuit_of({detailed(resistor("R", "a", "0", 100), 0, warm)}, {{"in", "a", "0"}});
  EXPECT_FALSE(has_tolerances(circuit));
  ToleranceOptions options;
  options.samples = 100000;
  options.low_celsius = 20;
  options.high_celsius = 70;
  EXPECT_TRUE(has_tolerances(circuit, options));
  auto found = circuit_tolerance(circuit, one_kilohertz, {}, options).impedance_ohm;
  EXPECT_NEAR(found.p05[0], 100.25, 0.03);
  EXPECT_NEAR(found.p95[0], 104.75, 0.03);
  options.high_celsius = 20;
  options.heating_volt = 10;  // 10 V across 100 ohm: 1 W
  found = circuit_tolerance(circuit, one_kilohertz, {}, options).impedance_ohm;
  EXPECT_NEAR(found.p05[0], 100.5, 0.05);
  EXPECT_NEAR(found.p95[0], 109.5, 0.05);
  const auto worst = circuit_worst_case(circuit, one_kilohertz, {}, options);
  EXPECT_NEAR(worst.impedance_ohm.lowest[0], 100, 1e-9);
  EXPECT_NEAR(worst.impedance_ohm.highest[0], 110, 1e-9);
  options.low_celsius = 50;
  EXPECT_THROW(circuit_tolerance(circuit, one_kilohertz, {}, options), InputError);
}

// All parts are as warm as their surroundings: a divider of equal coefficients
// keeps its ratio.
TEST(Temperature, IsTheSameForAllParts) {
  ToleranceDetail warm;
  warm.ppm_per_kelvin = 3930;
  ToleranceOptions options;
  options.low_celsius = -20;
  options.high_celsius = 60;
  const auto found = circuit_tolerance(divider_of(warm, 0), one_kilohertz, {}, options);
  EXPECT_NEAR(found.transfer[0].db.p05[0], found.transfer[0].db.p95[0], 1e-12);
  EXPECT_GT(found.impedance_ohm.p95[0] - found.impedance_ohm.p05[0], 50);
}

TEST(FigureTolerance, IsOfThatFigureAlone) {
  Part driver;
  driver.name = "driver";
  driver.kind = PartKind::planar_driver;
  driver.nodes = {"a", "0"};
  driver.values = {{"dc_ohm", 14}, {"coil_henry", 1e-4}};
  ToleranceDetail figures;
  figures.figure_percent = {{"coil_henry", 20}};
  const Circuit circuit = circuit_of({detailed(driver, 0, figures)}, {{"in", "a", "0"}});
  Array hz(2);
  hz << 1, 1e6;
  const auto worst = circuit_worst_case(circuit, hz);
  EXPECT_NEAR(worst.impedance_ohm.highest[0], 14, 1e-3);
  EXPECT_NEAR(worst.impedance_ohm.highest[1] / worst.impedance_ohm.lowest[1], 1.5, 1e-3);
}

// Resistors in series are at worst all at the same end, however many there are.
TEST(WorstCase, OfManyValuesIsFoundBySigns) {
  std::vector<Part> many;
  for (int i = 0; i < 20; ++i)
    many.push_back(with_tolerance(resistor("R" + std::to_string(i), "n" + std::to_string(i),
                                           i == 19 ? "0" : "n" + std::to_string(i + 1), 10),
                                  5));
  const auto worst = circuit_worst_case(circuit_of(many, {{"in", "n0", "0"}}), one_kilohertz);
  EXPECT_NEAR(worst.impedance_ohm.lowest[0], 190, 1e-9);
  EXPECT_NEAR(worst.impedance_ohm.highest[0], 210, 1e-9);
  EXPECT_FALSE(worst.reach.all_corners);
  EXPECT_FALSE(worst.reach.inside_further);
}

// At the resonance of 1 mH and 1 uF |Z| is 1 ohm, and more at both ends of the
// coil's tolerance.
TEST(WorstCase, SaysWhereASetInsideReachesFurther) {
  const Circuit circuit = circuit_of(
      {with_tolerance(inductor("L", "a", "b", 1e-3, 1), 10), capacitor("C", "b", "0", 1e-6)},
      {{"in", "a", "0"}});
  const Array resonance = Array::Constant(1, 1 / (2 * std::numbers::pi * std::sqrt(1e-9)));
  const auto worst = circuit_worst_case(circuit, resonance);
  EXPECT_TRUE(worst.reach.all_corners);
  EXPECT_TRUE(worst.reach.inside_further);
  EXPECT_LT(worst.impedance_ohm.lowest[0], 1.1);
  const auto plain = circuit_worst_case(divider_of({}, 5), one_kilohertz);
  EXPECT_FALSE(plain.reach.inside_further);
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
