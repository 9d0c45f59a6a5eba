#include <ohmtilt/circuit/solver.h>
#include <ohmtilt/design/flatten/direct_search.h>
#include <ohmtilt/design/flatten/dual_network.h>
#include <ohmtilt/design/flatten/flatten.h>
#include <ohmtilt/design/flatten/flatten_fit.h>
#include <ohmtilt/text/error.h>

#include "tests/design/pads.h"

namespace ohmtilt::test {
namespace {

// Duality (any textbook on filters; Zobel 1923): a load of R + Z beside R + R^2/Z is R.
TEST(DualNetwork, MakesAParallelResonanceExactlyResistive) {
  const auto [ohm, henry, farad] = dual_of({40, 5e-4, 8e-6}, 16);
  CircuitDraft draft;
  draft.reference = "0";
  draft.ports = {{"terminals", "a", "0"}};
  draft.parts = {resistor("R", "a", "n", 16), resistor("peak R", "n", "0", 40),
                 inductor("peak L", "n", "0", 5e-4), capacitor("peak C", "n", "0", 8e-6)};
  const Array hz = log_grid({20, 20000}, 97);
  EXPECT_GT((driving_point(Circuit(draft), hz) - Complex(16)).abs().maxCoeff(), 10);
  for (const Part& part :
       {resistor("dual R", "a", "m", 16 + ohm), inductor("dual L", "m", "k", henry),
        capacitor("dual C", "k", "0", farad)})
    draft.parts.push_back(part);
  for (const Complex z : driving_point(Circuit(draft), hz)) EXPECT_LT(std::abs(z - 16.0), 16e-12);
}

TEST(DualNetwork, RefusesWhatHasNoDual) { EXPECT_THROW(dual_of({40, 0, 1e-6}, 16), InputError); }

TEST(DirectSearch, FindsTheMinimumOfRosenbrocksValley) {
  // Rosenbrock 1960: 100 (y - x^2)^2 + (1 - x)^2 from (-1.2, 1) has its minimum 0 at (1, 1).
  DirectSearchOptions how;
  how.last_step = 1e-7;
  how.most_rounds = 20000;
  const auto found = direct_search(
      [](const std::vector<double>& x) {
        return 100 * std::pow(x[1] - x[0] * x[0], 2) + std::pow(1 - x[0], 2);
      },
      {-1.2, 1}, how);
  EXPECT_NEAR(found.x[0], 1, 1e-3);
  EXPECT_NEAR(found.x[1], 1, 2e-3);
}

/// 16 ohm in series with a parallel resonance of 40 ohm, 0.5 mH and 8 uF.
FlattenGoal one_resonance() {
  FlattenGoal goal;
  goal.hz = log_grid({20, 20000}, 96);
  const Array omega = 2 * std::numbers::pi * goal.hz;
  const ComplexArray siemens = 1 / 40.0 + j * (omega * 8e-6 - (omega * 5e-4).inverse());
  goal.load_ohm = 16 + siemens.inverse();
  goal.source_ohm = 10;
  goal.least_ohm = 8;
  goal.coil_ohm_per_henry = 0;
  return goal;
}

// Duality (as above): the branch is 16 + 16^2/40 ohm, 16^2 x 8 uF = 2.048 mH, 0.5 mH / 16^2 =
// 1.953125 uF, and what it leaves is 16 ohm.
TEST(DualBranches, AreTheTextbooksForOneResonance) {
  const FlattenGoal goal = one_resonance();
  const auto dual = dual_branches(goal, 16, 4);
  ASSERT_EQ(dual.size(), 1u);
  EXPECT_NEAR(dual[0].ohm, 22.4, 0.01);
  EXPECT_NEAR(dual[0].henry.value_or(0), 2.048e-3, 1e-6);
  EXPECT_NEAR(dual[0].farad.value_or(0), 1.953125e-6, 1e-9);
  EXPECT_LT(worst_span_db(flattened_ohm(goal.load_ohm, dual, goal.hz), goal.source_ohm), 1e-3);
}

TEST(Flatten, LeavesTheExactDualAsItIs) {
  const FlattenGoal goal = one_resonance();
  const std::vector<FlattenBranch> exact{{22.4, 2.048e-3, 0, 1.953125e-6}};
  EXPECT_LT(flatten_cost(goal, exact), 1e-9);
  const auto fitted = fitted_branches(goal, exact);
  EXPECT_NEAR(fitted[0].ohm, 22.4, 1e-6);
  EXPECT_NEAR(*fitted[0].henry, 2.048e-3, 1e-9);
  EXPECT_NEAR(*fitted[0].farad, 1.953125e-6, 1e-12);
  EXPECT_LT(networks_from(goal, {exact}, 1).at(0).cost, 1e-9);
}

TEST(Flatten, FindsTheDualFromAPoorStart) {
  const FlattenGoal goal = one_resonance();
  const std::vector<FlattenBranch> poor{{60, 1e-3, 0, 4e-6}};
  EXPECT_GT(flatten_cost(goal, poor), 1);
  EXPECT_LT(flatten_cost(goal, fitted_branches(goal, poor)), 0.01);
}

TEST(Flatten, NeverReturnsWorseThanTheStart) {
  const FlattenGoal goal = one_resonance();
  for (const double ohm : {0.05, 3.0, 1e4}) {  // not to be bought, below the floor, useless
    const std::vector<FlattenBranch> start{{ohm, {}, 0, 1e-5}, {ohm, 1e-4, 0, {}}};
    const double before = flatten_cost(goal, start);
    const auto fitted = fitted_branches(goal, start);
    EXPECT_TRUE(flatten_cost(goal, fitted) <= before);
    ASSERT_EQ(fitted.size(), 2u);
    EXPECT_FALSE(fitted[0].henry || fitted[1].farad);  // shapes stay
  }
}

TEST(Flatten, ManyArmaturesComeWithinADecibelAtTheFloor) {
  FlattenOptions how;
  const auto found =
      flatten(read_earphone(test::source_dir() / "impedance-curves/five-armature.csv"), how);
  EXPECT_GT(found.span_before_db, 8);
  EXPECT_TRUE(found.reached);
  EXPECT_GE(found.min_ohm_after, found.least_ohm);
}

TEST(Flatten, KeepsTheLimitAndTheFloor) {
  FlattenOptions how;
  const auto found = flatten(resonant_earphone(), how);
  EXPECT_TRUE(found.reached);
  EXPECT_GT(found.span_before_db, 3);
  EXPECT_LE(found.span_after_db, how.limit_db);
  EXPECT_GE(found.min_ohm_after, found.least_ohm);
  EXPECT_DOUBLE_EQ(found.least_ohm, found.min_ohm_before / 2);
  // What it says of the network besides is worked out again in tests/outside/reference_flatten.py.
}

TEST(Flatten, ATighterLimitNeedsNoFewerBranches) {
  std::size_t before = 0;
  for (const double limit_db : {100.0, 2.0, 1.0, 0.5}) {
    FlattenOptions how;
    how.limit_db = limit_db;
    const auto found = flatten(resonant_earphone(), how);
    EXPECT_GE(found.branches.size(), before);
    before = found.branches.size();
    EXPECT_TRUE(limit_db < 100 || before == 0);
  }
}

TEST(Flatten, LeavesAResistanceAsItIs) {
  const auto found = flatten(resistive_earphone(16), {});
  EXPECT_TRUE(found.reached);
  EXPECT_TRUE(found.branches.empty());
  EXPECT_NEAR(found.span_after_db, 0, 1e-12);
  EXPECT_EQ(found.extra_current_ratio, 1);
  EXPECT_EQ(found.loss_db, 0);
}

bool is_preferred(Series series, double value) {
  return !preferred_values(series, value * (1 - 1e-12), value * (1 + 1e-12)).empty();
}

TEST(Flatten, TakesPreferredValuesAndCoilsWithTheirResistance) {
  FlattenOptions how;
  how.coil_ohm_per_henry = 1000;
  const auto found = flatten(resonant_earphone(), how);
  ASSERT_FALSE(found.branches.empty());
  for (const auto& branch : found.branches) {
    EXPECT_TRUE(is_preferred(Series::E24, branch.ohm)) << branch.ohm;
    const double farad = branch.farad.value_or(1e-6);
    EXPECT_TRUE(is_preferred(Series::E12, farad)) << farad;
    EXPECT_NEAR(branch.coil_ohm, branch.henry.value_or(0) * 1000, 1e-12);
  }
}

TEST(Flatten, CircuitIsTheNetwork) {
  const std::vector<FlattenBranch> branches{{18, 4.7e-4, 0.2, 1e-6}, {33, {}, 0, 2.2e-7}};
  const Array hz = log_grid({20, 20000}, 31);
  const ComplexArray by_circuit = driving_point(flatten_circuit(branches, 5, "test"), hz, "in");
  const ComplexArray by_formula =
      (branch_ohm(branches[0], hz).inverse() + branch_ohm(branches[1], hz).inverse()).inverse();
  EXPECT_LT(((by_circuit - by_formula) / by_formula).abs().maxCoeff(), 1e-11);
}

TEST(Flatten, NamesThePadThatDoesTheSame) {
  const auto found = flatten(resonant_earphone(), {});
  ASSERT_TRUE(found.pad);
  EXPECT_GE(found.pad->input_min_ohm, found.min_ohm_after * (1 - 1e-9));
  const PadSite site = site_of(resonant_earphone(), 10);
  const auto pad =
      two_port(PadTopology::L, std::vector{found.pad->series_ohm, found.pad->shunt_ohm});
  EXPECT_NEAR(site.output_ohm(pad), found.pad->output_ohm, 1e-9);
  EXPECT_NEAR(site.attenuation_db(pad), found.pad->attenuation_db, 1e-9);
}

TEST(Flatten, RefusesWhatIsOutOfBounds) {
  const auto refuse = [](auto change) {
    FlattenOptions how;
    change(how);
    EXPECT_THROW(flatten(resonant_earphone(), how), InputError);
  };
  refuse([](auto& o) { o.source_ohm = 0; });
  refuse([](auto& o) { o.limit_db = 0; });
  refuse([](auto& o) { o.branches = 0; });
  refuse([](auto& o) { o.least_ohm = 13; });  // the earphone itself is 12 ohm
  refuse([](auto& o) { o.points = 4; });
  refuse([](auto& o) { o.tolerance_percent = 60; });
}

}  // namespace
}  // namespace ohmtilt::test
