// Levels and ratios of a divider in closed form: which moved gains they show, and which no one can
// see.
#include <gtest/gtest.h>

#include <ohmtilt/base/constants.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/frequency_grid.h>
#include <ohmtilt/measure/level_check.h>

#include "tests/measure/random_earphone.h"

namespace ohmtilt {
namespace {

using Which = MovedGain::Which;

/// A source, a reference and what was recorded beside the measurement.
struct Divider {
  double source_ohm = 2, source_henry = 0, source_farad = 0, reference_ohm = 10;
  Wiring wiring = Wiring::load;
  bool with_short = false;
  double volume = 1, first = 1, second = 1;  ///< moved before the measurement

  Complex source(double hz) const {
    const Complex s(0, two_pi * hz);
    return source_ohm + s * source_henry + (source_farad > 0 ? 1.0 / (s * source_farad) : 0);
  }

  /// What both channels hold of a load: over the source's own voltage.
  Transfer recorded(const Array& hz, const ComplexArray& earphone_ohm, bool measured) const {
    Transfer t{hz,
               ComplexArray(hz.size()),
               Array::Constant(hz.size(), 1e-5),
               Array::Ones(hz.size()),
               Array::Ones(hz.size()),
               {}};
    t.first_level_db = Array(hz.size());
    const double on_first = measured ? first * volume : 1, on_ratio = measured ? second / first : 1;
    for (Eigen::Index i = 0; i < hz.size(); ++i) {
      const Complex whole = earphone_ohm[i] + reference_ohm;
      t.first_level_db[i] =
          -31 + db_from_amplitude(on_first * std::abs(whole / (whole + source(hz[i]))));
      t.ratio[i] =
          (wiring == Wiring::load ? earphone_ohm[i] : Complex(reference_ohm)) / whole * on_ratio;
    }
    return t;
  }

  LevelCheck check(const Array& hz, const ComplexArray& earphone_ohm) const {
    Calibration calibration;
    calibration.same = recorded(hz, ComplexArray::Constant(hz.size(), 1e12), false);
    calibration.same->ratio.setOnes();
    if (with_short) calibration.short_ = recorded(hz, ComplexArray::Zero(hz.size()), false);
    ImpedanceOptions options;
    options.reference_ohm = reference_ohm;
    options.wiring = wiring;
    const Transfer measured = recorded(hz, earphone_ohm, true);
    return level_check(measured, calibration, impedance(measured, calibration, options), options);
  }
};

Array grid() { return log_grid({20, 20000}, 241); }

/// The move that the check has for a gain, or 0.
double move_of(const LevelCheck& check, Which which) {
  for (const MovedGain& one : check.moved)
    if (one.which == which) return one.db;
  return 0;
}

TEST(LevelCheck, LevelsOfUnmovedGainsFitWhateverTheSource) {
  for (unsigned seed = 0; seed < 60; ++seed) {
    const test::RandomEarphone earphone(seed);
    Divider divider;
    divider.source_ohm = std::vector<double>{0, 0.3, 4, 33, 120}[seed % 5];
    divider.source_henry = seed % 3 == 0 ? 10e-6 : 0;
    divider.source_farad = seed % 4 == 0 ? 220e-6 : 0;
    divider.wiring = seed % 2 ? Wiring::load : Wiring::reference;
    divider.with_short = seed % 7 < 3;
    const LevelCheck check = divider.check(grid(), earphone.impedance(grid()));
    ASSERT_TRUE(check.possible);
    EXPECT_LT(check.left_db, 0.003) << seed;
    if (divider.with_short) {
      EXPECT_NEAR(check.source_ohm, divider.source_ohm, 0.1 + 0.02 * divider.source_ohm) << seed;
    }
    EXPECT_TRUE(check.moved.empty()) << seed;
  }
}

// With a short the source is known, so that each level is the volume's or the input's alone.
TEST(LevelCheck, AShortTellsAMovedFirstGainOfAnyEarphone) {
  for (unsigned seed = 0; seed < 40; ++seed)
    for (const double factor : {0.8, 0.95, 1.05, 1.26}) {
      const test::RandomEarphone earphone(seed);
      Divider divider;
      divider.source_ohm = 0.2 + seed % 6;
      divider.with_short = true;
      divider.wiring = seed % 2 ? Wiring::load : Wiring::reference;
      divider.first = factor;
      const LevelCheck check = divider.check(grid(), earphone.impedance(grid()));
      ASSERT_FALSE(check.moved.empty()) << seed << " " << factor;
      EXPECT_NEAR(move_of(check, Which::first), db_from_amplitude(factor), 0.1) << seed;
      const auto brings_it_back = [&](const MovedGain& one) {
        return std::abs(one.ratio_factor() / factor - 1) < 0.012;  // first / second is the ratio
      };
      EXPECT_TRUE(std::any_of(check.moved.begin(), check.moved.end(), brings_it_back)) << seed;
    }
}

// A level that falls without a short: an earphone of even impedance behind another source does the
// same, and nothing is said; one that rises has no such excuse.
TEST(LevelCheck, AFlatEarphoneHidesAFallAndNotARise) {
  const ComplexArray flat = ComplexArray::Constant(grid().size(), 32);
  Divider divider;
  divider.source_ohm = 0.5;
  divider.first = amplitude_from_db(-2);
  const LevelCheck fallen = divider.check(grid(), flat);
  EXPECT_TRUE(fallen.moved.empty());
  EXPECT_GT(fallen.first_within_db, 2);
  divider.first = amplitude_from_db(2);
  EXPECT_GT(move_of(divider.check(grid(), flat), Which::first), 1.8);
}

// The second channel's gain is not in the first one's level, but in how the level follows the
// ratio: behind a source with impedance it shows, behind one without it cannot.
TEST(LevelCheck, TheSecondGainShowsBehindASourceWithImpedance) {
  const ComplexArray z = test::RandomEarphone(3).impedance(grid());
  Divider divider;
  divider.second = amplitude_from_db(2);
  divider.source_ohm = 8;
  const LevelCheck seen = divider.check(grid(), z);
  EXPECT_NEAR(move_of(seen, Which::second), 2, 0.1);
  divider.source_ohm = 0;
  const LevelCheck unseen = divider.check(grid(), z);
  EXPECT_TRUE(unseen.moved.empty());
  EXPECT_TRUE(std::isinf(unseen.second_within_db));
}

TEST(LevelCheck, AMovedVolumeLeavesTheRatioAlone) {
  Divider divider;
  divider.with_short = true;
  divider.source_ohm = 20;
  divider.volume = amplitude_from_db(3);
  const LevelCheck check = divider.check(grid(), test::RandomEarphone(4).impedance(grid()));
  ASSERT_FALSE(check.moved.empty());
  EXPECT_EQ(check.moved[0].which, Which::volume);
  EXPECT_NEAR(check.moved[0].db, 3, 0.05);
}

// A bound that is stated holds: whatever lies beyond it is named.
TEST(LevelCheck, WhatIsBoundedIsNamedBeyondIt) {
  for (unsigned seed = 0; seed < 24; ++seed) {
    const ComplexArray z = test::RandomEarphone(seed).impedance(grid());
    Divider divider;
    divider.source_ohm = 1 + seed % 5;
    divider.with_short = seed % 2;
    const LevelCheck clean = divider.check(grid(), z);
    for (const double side : {-1.0, 1.0}) {
      for (const auto& [within_db, gain] : {std::pair{clean.first_within_db, &Divider::first},
                                            {clean.second_within_db, &Divider::second}}) {
        if (std::isinf(within_db)) continue;
        Divider moved = divider;
        moved.*gain = amplitude_from_db(side * 1.5 * within_db);
        EXPECT_FALSE(moved.check(grid(), z).moved.empty()) << seed << " " << within_db * side;
      }
    }
  }
}

TEST(LevelCheck, TellsNothingWithoutAnUnloadedLevel) {
  const Divider divider;
  ImpedanceOptions options;
  options.reference_ohm = 10;
  const Transfer t = divider.recorded(grid(), ComplexArray::Constant(grid().size(), 20), true);
  EXPECT_FALSE(level_check(t, {}, impedance(t, {}, options), options).possible);
}

}  // namespace
}  // namespace ohmtilt
