// What must hold for every earphone, network and option: seeded random ones, by this file's own
// generator.
#include <random>

#include <ohmtilt/analysis/deviation/comparison.h>
#include <ohmtilt/chain/read_chain.h>
#include <ohmtilt/circuit/read_circuit.h>
#include <ohmtilt/circuit/solver.h>
#include <ohmtilt/design/flatten/flatten.h>

#include "tests/design/pads.h"
#include "tests/dice.h"

namespace ohmtilt::test {
namespace {

/// A resistance, a coil and up to three parallel resonances in series.
Earphone resonant_earphone_of_chance(Dice& dice) {
  struct Peak {
    double ohm, hz, q;
  };
  const double ohm = dice.between(4, 60), henry = dice.coin() ? dice.between(1e-5, 1e-3) : 0;
  std::vector<Peak> peaks;
  for (int i = dice.below(4); i > 0; --i)
    peaks.push_back({ohm * dice.between(0.2, 5), dice.between(60, 12000), dice.between(0.7, 6)});
  return earphone_of(OnePort({1, 1e6}, [=](const Array& hz) -> ComplexArray {
    ComplexArray z = ComplexArray::Constant(hz.size(), ohm) +
                     j * (2 * std::numbers::pi * henry) * hz.cast<Complex>();
    for (const auto& peak : peaks)
      z += peak.ohm / (1.0 + j * peak.q * (hz / peak.hz - peak.hz / hz).cast<Complex>());
    return z;
  }));
}

FlattenBranch random_branch(Dice& dice) {
  FlattenBranch branch;
  if (dice.coin()) {
    branch.henry = dice.between(1e-6, 1e-2);
    branch.coil_ohm = dice.coin() ? *branch.henry * 300 : 0;
  }
  if (dice.coin()) branch.farad = dice.between(1e-8, 1e-4);
  if (!(branch.coil_ohm > 0 && dice.coin())) branch.ohm = dice.between(0.5, 200);
  return branch;
}

/// What `deviation` and `solve` read of a network: its circuit file.
struct Written {
  double span_db, min_ohm;
  std::vector<std::string> warnings;
};

Written behind_the_file(const Scratch& scratch, const Earphone& earphone, const Flattening& found,
                        double source_ohm) {
  scratch.write("network.circuit.toml", circuit_text(flatten_circuit(found.branches, 5, "test")));
  const auto chain = parse_chain("[source]\noutput_ohm = " + std::to_string(source_ohm) +
                                     "\n[[stage]]\nkind = \"circuit\"\nfile = "
                                     "\"network.circuit.toml\"\n",
                                 "flat.chain.toml", scratch.folder());
  ComparisonOptions how;
  how.band = {found.hz[0], found.hz[found.hz.size() - 1]};
  how.points = found.hz.size();
  how.anchor = NoAnchor{};
  const auto compared =
      compare_sources(earphone, resistive_source(0), {thevenin_source(chain.value)}, how);
  const auto network = read_circuit(scratch / "network.circuit.toml");
  const ComplexArray across = driving_point(network.value, found.hz, "in");
  const ComplexArray both = (across.inverse() + found.before_ohm.inverse()).inverse();
  return {compared.cases[0].deviation.span_db, both.abs().minCoeff(), network.warnings};
}

FlattenOptions quick_options(Dice& dice) {
  FlattenOptions how;
  how.points = 48 + dice.below(50);
  how.source_ohm = std::round(dice.between(1, 100) * 64) / 64;  // exact as text
  how.samples = 10;
  how.branches = 1 + dice.below(2);
  how.limit_db = dice.between(0.2, 3);
  return how;
}

// The file that is written is the network that the figures are of: `deviation` through it gives the
// stated span, `solve` the stated lowest |Z|, and no node dangles. Resistors alone, and branches
// without a resistor, included.
TEST(FlattenProperty, TheFileWrittenIsTheFigureStated) {
  const Scratch scratch;
  Dice dice(1);
  for (int run = 0; run < 300; ++run) {
    const FlattenOptions how = quick_options(dice);
    const Earphone earphone = resonant_earphone_of_chance(dice);
    std::vector<FlattenBranch> branches(1 + static_cast<std::size_t>(dice.below(4)));
    for (auto& branch : branches) branch = random_branch(dice);
    const Flattening stated = flattening_of(earphone, branches, how);
    const Written written = behind_the_file(scratch, earphone, stated, how.source_ohm);
    EXPECT_NEAR(written.span_db, stated.over_source_after_db.tail(1)[0], 1e-9) << run;
    EXPECT_LE(written.span_db, stated.span_after_db + 1e-9) << run;
    EXPECT_NEAR(written.min_ohm / stated.min_ohm_after, 1, 1e-9) << run;
    EXPECT_TRUE(written.warnings.empty()) << run << written.warnings.at(0);
  }
}

// And so for the networks that are found, which keep the floor, use the parts that were allowed,
// have no part that is worth nothing, and say truly whether the limit is kept.
TEST(FlattenProperty, WhatIsFoundKeepsItsPromises) {
  const Scratch scratch;
  Dice dice(2);
  for (int run = 0; run < 24; ++run) {
    FlattenOptions how = quick_options(dice);
    how.resistors = Series::E12;
    how.coils_and_capacitors = Series::E6;
    how.coils = dice.coin();
    how.largest_henry = 2e-3;
    how.largest_farad = 1e-5;
    const Earphone earphone = resonant_earphone_of_chance(dice);
    const Flattening found = flatten(earphone, how);
    if (!found.branches.empty()) {
      EXPECT_NEAR(behind_the_file(scratch, earphone, found, how.source_ohm).span_db,
                  found.over_source_after_db.tail(1)[0], 1e-9)
          << run;
    }
    EXPECT_GE(found.min_ohm_after, found.least_ohm * (1 - 1e-12)) << run;
    EXPECT_LE(found.span_after_db, found.span_before_db) << run;
    EXPECT_EQ(found.reached, found.span_after_db <= how.limit_db) << run;
    for (std::size_t i = 0; i < found.branches.size(); ++i) {
      const FlattenBranch& branch = found.branches[i];
      EXPECT_TRUE(how.coils || !branch.henry) << run;
      EXPECT_LE(branch.henry.value_or(0), how.largest_henry) << run;
      EXPECT_LE(branch.farad.value_or(0), how.largest_farad) << run;
      auto fewer = found.branches;
      fewer.erase(fewer.begin() + static_cast<std::ptrdiff_t>(i));
      const double without_db =
          worst_span_db(flattened_ohm(found.before_ohm, fewer, found.hz), how.source_ohm);
      EXPECT_TRUE(without_db > found.span_after_db + how.least_worth_db - 0.01 ||
                  (found.reached && without_db > how.limit_db))
          << run;
    }
  }
}

// Nothing between the sources that are looked at exceeds the largest span that is stated.
TEST(FlattenProperty, TheWorstSpanHoldsForEverySource) {
  Dice dice(3);
  for (int run = 0; run < 200; ++run) {
    const Array hz = log_grid({20, 20000}, 64);
    const ComplexArray z = resonant_earphone_of_chance(dice).impedance.at(hz);
    const double source = dice.between(0.5, 5000);
    const double stated = worst_span_db(z, source);
    for (int i = 0; i < 200; ++i) {
      const double ohm = source * std::pow(10.0, -4 * i / 199.0);
      const Array db = 20 * (z / (z + ohm)).abs().log10();
      EXPECT_LE(db.maxCoeff() - db.minCoeff(), stated * (1 + 1e-6) + 1e-9) << run << " " << ohm;
    }
  }
}

/// Span by its definition, at the sources from a fiftieth of the largest up.
double span_by_definition(const ComplexArray& load, const Array& hz,
                          const std::vector<FlattenBranch>& branches, double source_ohm,
                          double least_ohm) {
  ComplexArray siemens = load.inverse();
  for (const auto& branch : branches) {
    const ComplexArray jw = j * (2 * std::numbers::pi) * hz.cast<Complex>();
    ComplexArray z = ComplexArray::Constant(hz.size(), branch.ohm + branch.coil_ohm);
    if (branch.henry) z += jw * *branch.henry;
    if (branch.farad) z += (jw * *branch.farad).inverse();
    siemens += z.inverse();
  }
  if (siemens.abs().maxCoeff() > 1 / least_ohm) return INFINITY;
  double largest = 0;
  for (double ohm = source_ohm; ohm > source_ohm / 50; ohm /= 1.5) {
    const Array db = -20 * (1 + ohm * siemens).abs().log10();
    largest = std::max(largest, db.maxCoeff() - db.minCoeff());
  }
  return largest;
}

std::vector<FlattenBranch> every_branch(const Stock& stock, double coil_ohm_per_henry) {
  std::vector<std::optional<double>> henries{std::nullopt}, farads{std::nullopt};
  for (const auto& coil : stock.coils) henries.emplace_back(coil.henry);
  for (const double farad : stock.farads) farads.emplace_back(farad);
  std::vector<double> ohms{0};
  ohms.insert(ohms.end(), stock.ohms.begin(), stock.ohms.end());
  std::vector<FlattenBranch> branches;
  for (const double ohm : ohms)
    for (const auto& henry : henries)
      for (const auto& farad : farads)
        if (ohm > 0 || henry || farad)
          branches.push_back({ohm, henry, henry.value_or(0) * coil_ohm_per_henry, farad});
  return branches;
}

// Brute force, by a loop that shares nothing with the search: no single branch, and no two
// branches, of E12 values betters what is found.
TEST(FlattenProperty, NoOneOrTwoBranchesOfE12AreBetter) {
  Dice dice(4);
  for (int run = 0; run < 6; ++run) {
    const bool two = run >= 3;
    FlattenOptions how;
    how.points = 40;
    how.samples = 10;
    how.source_ohm = 10;
    how.limit_db = 0.01;
    how.branches = two ? 2 : 1;
    how.least_worth_db = 0;
    Stock stock;
    stock.ohms = preferred_values(Series::E12, two ? 18 : 4.7, two ? 47 : 100);
    for (const double henry : preferred_values(Series::E12, two ? 4.7e-4 : 1e-4, two ? 9e-4 : 1e-2))
      stock.coils.push_back({henry, {}});
    stock.farads = preferred_values(Series::E12, two ? 3.3e-6 : 1e-6, two ? 6e-6 : 1e-4);
    how.stock = stock;
    const Earphone earphone = resonant_earphone_of_chance(dice);
    const Flattening found = flatten(earphone, how);
    const auto all = every_branch(stock, how.coil_ohm_per_henry);
    double best = found.span_before_db;
    for (const auto& first : all) {
      if (!two)
        best = std::min(best, span_by_definition(found.before_ohm, found.hz, {first},
                                                 how.source_ohm, found.least_ohm));
      else
        for (const auto& second : all)
          if (&second >= &first)
            best = std::min(best, span_by_definition(found.before_ohm, found.hz, {first, second},
                                                     how.source_ohm, found.least_ohm));
    }
    EXPECT_LE(found.span_after_db, best + 0.002) << run;  // sources between those of the loop
  }
}

// Found by hand: 8.2 ohm and 100 uH across this three-way earphone leave 3.22 dB.
TEST(Flatten, IsNotBeatenByHandOnAThreeWayEarphone) {
  FlattenOptions how;
  how.source_ohm = 10;
  how.limit_db = 3.3;
  how.branches = 1;
  how.samples = 10;
  const Earphone earphone = read_earphone(data("three-way-armature.circuit.toml"));
  const Flattening by_hand = flattening_of(earphone, {{8.2, 1e-4, 0.03, {}}}, how);
  EXPECT_NEAR(by_hand.span_after_db, 3.22, 0.005);
  const Flattening found = flatten(earphone, how);
  EXPECT_TRUE(found.reached);
  EXPECT_LE(found.span_after_db, by_hand.span_after_db);
}

}  // namespace
}  // namespace ohmtilt::test
