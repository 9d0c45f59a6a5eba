#include <ohmtilt/base/preferred_values.h>
#include <ohmtilt/design/pad/switched_attenuator.h>
#include <ohmtilt/text/error.h>

#include <cmath>
#include <numeric>

#include "tests/design/pads.h"

namespace ohmtilt::test {
namespace {

SwitchedAttenuatorOptions switching(std::vector<double> steps_db, std::vector<double> values) {
  SwitchedAttenuatorOptions options;
  options.steps_db = std::move(steps_db);
  options.values_ohm = std::move(values);
  options.draws.samples = 20;
  return options;
}

// Behind no source resistance an unloaded divider's steps are those of its parts, but the earphone
// loads it: 10 ohm in a row of 10 behind 0 ohm. By hand, a joint with b below and 10 - b above
// leaves b' / (b' + 10 - b), b' = 10 b / (10 + b).
TEST(SwitchedAttenuator, KeepsStepsAndItsOwnResistance) {
  const PadSite site = site_of(resistive_earphone(10), 0);
  const auto found =
      switched_attenuator(site, switching({0, 6, 12, 20}, preferred_values(Series::E96, 0.1, 100)));
  EXPECT_NEAR(found.total_ohm(), 10, 1.22);
  for (const auto& step : found.steps) {
    EXPECT_NEAR(step.attenuation_db, step.asked_db, 0.5);
    const double below = step.pad.ohm[1], loaded = 10 * below / (10 + below);
    EXPECT_NEAR(step.attenuation_db, 20 * std::log10((loaded + step.pad.ohm[0]) / loaded), 1e-9);
    EXPECT_NEAR(step.largest_ampere, 1 / (loaded + step.pad.ohm[0]), 1e-12);
    // All the power that the amplifier gives at 1 V, less what the earphone takes.
    const double heat =
        std::accumulate(step.dissipation_milliwatt.begin(), step.dissipation_milliwatt.end(), 0.0);
    const double volt = loaded / (loaded + step.pad.ohm[0]);
    EXPECT_NEAR(heat, 1000 * (step.largest_ampere - volt * volt / 10), 1e-9);
  }
  auto asked = switching({0, 6, 12, 20}, preferred_values(Series::E96, 0.1, 1000));
  asked.total_ohm = 47;
  EXPECT_NEAR(switched_attenuator(site, asked).total_ohm(), 47, 5.8);
}

// Nothing below 1 ohm: a joint at 20 dB (less 0.5) with b = 1 ohm below needs the rest of the row
// to be (10^(19.5/20) - 1) 4 b/(4 + b) = 6.75 ohm at least, so a row of 4 ohm grows.
TEST(SwitchedAttenuator, GrowsWhereTheValuesAskForIt) {
  const PadSite site = site_of(resistive_earphone(4), 0);
  auto options = switching({0, 20}, preferred_values(Series::E24, 1, 1000));
  const auto found = switched_attenuator(site, options);
  EXPECT_GT(found.total_ohm(), 7.75);
  EXPECT_NEAR(found.steps[1].attenuation_db, 20, 0.5);
  options.total_ohm = 4;
  EXPECT_THROW(switched_attenuator(site, options), InputError);
}

TEST(SwitchedAttenuator, RefusesStepsThatTheValuesDoNotGive) {
  const PadSite site = site_of(resistive_earphone(16), 0.3);
  try {
    switched_attenuator(site, switching({0, 6, 12, 20}, {470, 1000}));
    FAIL() << "steps that are wrong by many decibels";
  } catch (const InputError& error) {
    EXPECT_NE(std::string(error.what()).find("the step of 6 dB"), std::string::npos)
        << error.what();
  }
}

}  // namespace
}  // namespace ohmtilt::test
