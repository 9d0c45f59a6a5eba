// Crosstalk through shared returns, against closed forms and a published example.
#include <ohmtilt/analysis/level/crosstalk.h>
#include <ohmtilt/text/error.h>

#include <cmath>
#include <random>

#include "tests/analysis/levels.h"

namespace ohmtilt::test {
namespace {

Chain shared(double output_ohm, std::optional<double> return_ohm, std::vector<Stage> stages = {}) {
  Source one = source(output_ohm, 1);
  one.shared_return_ohm = return_ohm;
  return {"", one, std::move(stages)};
}

// Idle over driven = Rg/(Rs + RL + Rg) by the voltage divider, computed with NumPy and checked
// there by a nodal analysis.
TEST(Crosstalk, OfACommonReturnIsTheTable) {
  int rows = 0;
  for (const auto& row : csv_rows(data("crosstalk_common_return.csv"))) {
    const auto value = [&](const char* key) { return std::stod(row.at(key)); };
    CrosstalkOptions few;
    few.points = 3;
    const auto result = crosstalk(shared(value("Rs_ohm"), value("Rg_ohm")),
                                  resistive_earphone(value("RL_ohm")), few);
    EXPECT_NEAR(result.separation_db[1], -value("ratio_dB"), 2e-5);
    ++rows;
  }
  EXPECT_EQ(rows, 90);
}

// By hand, Rg/(Rs + RL + Rg): the returns of source and cable add up, and with four wires that of
// the source stays. With a pad, unequal places and an unplugged amplifier: by an own nodal solution
// in tests/outside/reference_crosstalk.py.
TEST(Crosstalk, AddsTheReturnsOfSourceAndCable) {
  const Chain chain = shared(1, 0.06, {SeriesStage{0.397, 0}, Cable{0, 0.33, 0, 0}});
  const auto result = crosstalk(chain, resistive_earphone(32));
  EXPECT_NEAR(result.worst->db, -20 * std::log10(0.39 / (1.397 + 32 + 0.39)), 1e-9);
  ASSERT_TRUE(result.four_wire_worst);
  EXPECT_NEAR(result.four_wire_worst->db, -20 * std::log10(0.06 / (1.397 + 32 + 0.06)), 1e-9);
}

TEST(Crosstalk, FollowsTheImpedance) {
  const OnePort coil({20, 20000}, [](const Array& hz) -> ComplexArray {
    return 16.0 + Complex(0, 2 * 3.141592653589793 * 1e-3) * hz;
  });
  Earphone earphone = resistive_earphone(16);
  earphone.impedance = coil;
  const auto result = crosstalk(shared(0.5, 0.2), earphone);
  for (const Eigen::Index i : {0, 200, 479}) {
    const Complex z = coil.at(result.hz[i]);
    EXPECT_NEAR(result.separation_db[i], -20 * std::log10(std::abs(0.2 / (0.7 + z))), 1e-9);
  }
  EXPECT_EQ(result.worst->hz, 20);
  EXPECT_EQ(result.worst->db, result.separation_db[0]);
}

TEST(Crosstalk, IsNoneWithoutASharedReturnOrALoop) {
  const Earphone earphone = resistive_earphone(16);
  const auto apart = crosstalk(shared(1, {}), earphone);
  EXPECT_FALSE(apart.worst);
  EXPECT_FALSE(crosstalk_is_known(shared(1, {})));
  EXPECT_TRUE(crosstalk_is_known(shared(1, 0)));
  EXPECT_FALSE(crosstalk(shared(1, 0), earphone).worst);
  EXPECT_TRUE(crosstalk_is_known(shared(1, 0.01)));
  EXPECT_TRUE(crosstalk_is_known(shared(1, {}, {Cable{0.1, 0.2, 0, 0}})));
  EXPECT_TRUE(std::isinf(apart.separation_db[0]));
  ASSERT_EQ(apart.warnings.size(), 1u);
  EXPECT_NE(apart.warnings[0].find("`shared_return_ohm`"), std::string::npos);
  CrosstalkOptions open;
  open.idle_driven = false;
  const auto unplugged = crosstalk(shared(1, 0.2), earphone, open);
  EXPECT_FALSE(unplugged.worst);
  EXPECT_NE(unplugged.warnings.at(0).find("unplugged"), std::string::npos);
  // Behind an open pad the idle loop closes through the shunt.
  const Chain padded = shared(1, {}, {Pad{PadTopology::L, {10, 10}, 0}, Cable{0, 0.2, 0, 0}});
  EXPECT_TRUE(crosstalk(padded, earphone, open).worst);
}

// Physics: returns joined by a billionth of an ohm are joined. Chains of random stages, with random
// shared returns of which some are 0 ohm.
TEST(Crosstalk, JoinsReturnsAtZeroOhmAsAtABillionth) {
  std::mt19937_64 random(20261);
  const auto between = [&](double low, double high) {
    return low * std::pow(high / low, std::generate_canonical<double, 53>(random));
  };
  const auto one_of = [&](int count) {
    return static_cast<int>(random() % static_cast<unsigned>(count));
  };
  CrosstalkOptions few;
  few.points = 2;
  int differing = 0;
  for (int trial = 0; trial < 300; ++trial) {
    std::vector<Stage> zero, tiny, apart;
    const auto add = [&](const Stage& stage) {
      for (auto* all : {&zero, &tiny, &apart}) all->push_back(stage);
    };
    for (int i = 0; i <= one_of(3); ++i) {
      if (one_of(3) == 0)
        add(Pad{PadTopology::H, {between(0.1, 30), between(5, 50), between(0.1, 30)}, 0});
      if (one_of(2) == 0) add(Cable{between(0.01, 1), between(0.01, 1), 0, 0});
      Cable joint{between(0.01, 1), 0, 0, 0};
      zero.push_back(joint);
      joint.shared_return_ohm = 1e-9;
      tiny.push_back(joint);
      joint.shared_return_ohm.reset();
      apart.push_back(joint);
    }
    few.idle_driven = one_of(2) == 0;
    const std::optional<double> at_source =
        one_of(2) == 0 ? std::optional(between(0.01, 1)) : std::nullopt;
    const double output = between(0.1, 30);
    const Earphone earphone = resistive_earphone(between(5, 300));
    const auto separation = [&](const std::vector<Stage>& stages) {
      return crosstalk(shared(output, at_source, stages), earphone, few).separation_db[0];
    };
    const double joined = separation(zero), nearly = separation(tiny);
    if (joined < 150) {
      EXPECT_NEAR(joined, nearly, 1e-4) << trial;
    } else {
      EXPECT_GT(nearly, 150) << trial;  // through a billionth of an ohm alone
    }
    differing += std::abs(joined - separation(apart)) > 0.1;
  }
  EXPECT_GT(differing, 50);  // it matters whether they are joined
}

TEST(Crosstalk, OfABalancedSourceIsNone) {
  Source balanced = source(1, 1);
  balanced.balanced = true;
  const auto result =
      crosstalk(Chain("", balanced, {Cable{0.1, 0.2, 0, 0}}), resistive_earphone(16));
  EXPECT_FALSE(result.worst);
  EXPECT_NE(result.warnings.at(0).find("balanced"), std::string::npos);
  CrosstalkOptions five;
  five.wires = 5;
  EXPECT_THROW(crosstalk(shared(1, 0.1), resistive_earphone(16), five), InputError);
}

}  // namespace
}  // namespace ohmtilt::test
