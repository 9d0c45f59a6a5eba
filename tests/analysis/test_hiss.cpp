// Hiss: noise at the ear from source and resistors.
#include <ohmtilt/analysis/level/hiss.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/hearing/weighting.h>
#include <ohmtilt/text/error.h>

#include <cmath>

#include "tests/analysis/levels.h"

namespace ohmtilt::test {
namespace {

Source noisy(double noise_volt, NoiseWeighting weighting = NoiseWeighting::flat) {
  Source result = source(0, 1);
  result.noise_volt = noise_volt;
  result.noise_weighting = weighting;
  return result;
}

/// Level of all bands together, unweighted.
double sum_db(const Hiss& hiss) {
  double power = 0;
  for (const double db : hiss.band_db) power += power_from_db(db);
  return db_from_power(power);
}

// Published: S. Franco, Design with Operational Amplifiers, ex. 7.1 p. 317: 20 nV with a corner of
// 200 Hz makes 2.92 uV from 20 Hz to 20 kHz (2.9231 by its formula).
TEST(Hiss, OfACornerIsThePublishedExample) {
  EXPECT_NEAR(flat_density(2.9231e-6, NoiseWeighting::flat, 200), 20e-9, 2e-13);
  EXPECT_NEAR(flat_density(2.92e-6, NoiseWeighting::flat, 200), 20e-9, 5e-11);
  // The closed form e sqrt(fc ln(fH/fL) + fH - fL), to Simpson's error.
  for (const double corner : {0.0, 10.0, 200.0, 5000.0}) {
    const double closed = std::sqrt(corner * std::log(1000.0) + 20000 - 20);
    EXPECT_NEAR(flat_density(1, NoiseWeighting::flat, corner) * closed, 1, 1e-8) << corner;
  }
}

// Published: the same book, ex. 7.4 p. 323: 10 kohm at 25 C make 1.81 uV from 20 Hz to 20 kHz.
TEST(Hiss, OfAResistorIsThePublishedExample) {
  HissOptions options;
  options.kelvin = 298.15;
  const Chain chain("", noisy(0), {SeriesStage{10e3, 0}});
  const Hiss result = hiss(chain, resistive_earphone(1e12, 0), options);
  const double volt = amplitude_from_db(sum_db(result));
  EXPECT_NEAR(volt, 1.81e-6, 5e-9);
  // sqrt(4 k T R B) to the digit.
  EXPECT_NEAR(volt, std::sqrt(4 * 1.380649e-23 * 298.15 * 10e3 * 19980), 1e-13);
}

TEST(Hiss, OfAnAWeightedFigureIsThatFigure) {
  const Hiss result =
      hiss(Chain("", noisy(2e-6, NoiseWeighting::a), {}), resistive_earphone(16, 120));
  EXPECT_NEAR(result.level_dba, 120 + db_from_amplitude(2e-6), 1e-9);
  ASSERT_EQ(result.parts.size(), 1u);
  EXPECT_EQ(result.parts[0].name, "source");
  EXPECT_EQ(result.band_hz.size(), 31);
}

// Direct integration in steps of 0.1 Hz, apart from the bands and their Simpson's rule.
TEST(Hiss, OfFlatNoiseAgreesWithDirectIntegration) {
  const double step = 0.1;
  double weighted = 0;
  for (double hz = 20 + step / 2; hz < 20000; hz += step)
    weighted += step * power_from_db(a_weighting_db(hz));
  const Hiss result = hiss(Chain("", noisy(1e-6), {}), resistive_earphone(16, 120));
  EXPECT_NEAR(result.level_dba, 120 - 120 + db_from_power(weighted / 19980), 1e-5);
  EXPECT_NEAR(sum_db(result), 0, 1e-9);
  // White noise rises by 1 dB a third-octave.
  EXPECT_NEAR(result.band_db[20] - result.band_db[10], 10, 1e-6);
}

TEST(Hiss, AddsItsPartsInPower) {
  const Chain chain("", noisy(1e-7),
                    {Pad{PadTopology::L, {300, 33}, 0}, SeriesStage{10, 0}, Cable{0.2, 0.1, 0, 0}});
  const Hiss result = hiss(chain, resistive_earphone(32));
  ASSERT_EQ(result.parts.size(), 4u);
  EXPECT_EQ(result.parts[1].name, "stage 1: pad");
  EXPECT_EQ(result.parts[3].name, "stage 3: cable");
  double power = 0;
  for (const auto& part : result.parts) power += power_from_db(part.level_dba);
  EXPECT_NEAR(db_from_power(power), result.level_dba, 1e-10);
  // By hand: 10 ohm in series with the pad's output, into 32 ohm.
  const double loop = 1 / (1 / 300.0 + 1 / 33.0) + 10 + 0.5;
  const double volt = std::sqrt(4 * 1.380649e-23 * 293.15 * 10) * 32 / (32 + loop);
  HissOptions options;
  const double flat_dba = hiss(Chain("", noisy(1), {}), resistive_earphone(32)).level_dba;
  EXPECT_NEAR(result.parts[2].level_dba, flat_dba + db_from_amplitude(volt * std::sqrt(19980.0)),
              1e-9);
}

TEST(Hiss, FallsWithAPadWhoseResistorsAddNextToNothing) {
  HissOptions options;
  options.pad_db = 20;
  const Hiss result = hiss(Chain("", noisy(5e-6), {}), resistive_earphone(16), options);
  ASSERT_TRUE(result.pad);
  EXPECT_NEAR(result.pad->level_dba, result.level_dba - 20, 0.01);
  // By hand: 14.4 parallel to 1.778 ohm, as a source of noise, into 16 ohm.
  const double ohm = 14.4 * (16 / 9.0) / (14.4 + 16 / 9.0);
  const double volt = std::sqrt(4 * 1.380649e-23 * 293.15 * ohm * 19980) * 16 / (16 + ohm);
  EXPECT_NEAR(result.pad->pad_level_dba - result.level_dba, db_from_amplitude(volt / 5e-6), 1e-8);
}

TEST(Hiss, IsHeardAboveTheThreshold) {
  // Flat noise of -20 dB per band at 1 kHz cannot be heard, of 40 dB must be.
  const Hiss quiet = hiss(Chain("", noisy(1e-8), {}), resistive_earphone(16));
  EXPECT_TRUE(quiet.audible_hz.empty());
  EXPECT_LT(quiet.over_threshold_db, 0);
  const Hiss loud = hiss(Chain("", noisy(1e-4), {}), resistive_earphone(16));
  EXPECT_FALSE(loud.audible_hz.empty());
  EXPECT_GT(loud.over_threshold_db, 0);
  EXPECT_NEAR(loud.over_threshold_db - quiet.over_threshold_db, 80, 1e-9);
  // ISO 389-2 begins at 125 Hz, ISO 389-5 ends at 16 kHz.
  EXPECT_TRUE(std::isnan(loud.threshold_db[7]));
  EXPECT_EQ(loud.threshold_db[8], 28);
  EXPECT_EQ(loud.threshold_db[29], 53);
  EXPECT_TRUE(std::isnan(loud.threshold_db[30]));
  HissOptions free_field;
  free_field.threshold = HearingThreshold::free_field;
  const Hiss open = hiss(Chain("", noisy(1e-4), {}), resistive_earphone(16), free_field);
  EXPECT_EQ(open.threshold_db[0], 78.1);
  EXPECT_EQ(open.threshold_db[17], 2.4);
}

TEST(Hiss, IsMaskedBySurroundingsThroughTheIsolation) {
  HissOptions options;
  options.ambient_dba = 60;
  Earphone earphone = resistive_earphone(16);
  const Chain chain("", noisy(1e-5), {});
  const Hiss open = hiss(chain, earphone, options);
  EXPECT_EQ(open.warnings.size(), 1u);  // isolation is not known
  earphone.isolation = 20.0;
  const Hiss isolated = hiss(chain, earphone, options);
  EXPECT_TRUE(isolated.warnings.empty());
  EXPECT_NEAR(open.threshold_db[17] - isolated.threshold_db[17], 20, 1e-9);
  EXPECT_GT(isolated.threshold_db[17], 5.5);
  earphone.isolation = 150.0;
  EXPECT_EQ(hiss(chain, earphone, options).threshold_db[17], 5.5);
}

TEST(Hiss, TakesASpectrumAndAControl) {
  HissOptions options;
  options.spectrum = NoiseSpectrum{(Array(3) << 10, 1000, 30000).finished(),
                                   Array::Constant(3, 1e-6 / std::sqrt(19980.0))};
  const Chain silent("", source(0, 1), {});
  const double by_spectrum = hiss(silent, resistive_earphone(16), options).level_dba;
  EXPECT_NEAR(by_spectrum, hiss(Chain("", noisy(1e-6), {}), resistive_earphone(16)).level_dba,
              1e-9);
  options.control_db = -30;
  EXPECT_NEAR(hiss(silent, resistive_earphone(16), options).level_dba, by_spectrum - 30, 1e-9);
  options.spectrum->hz = (Array(3) << 100, 1000, 5000).finished();
  const Hiss narrow = hiss(silent, resistive_earphone(16), options);
  EXPECT_FALSE(narrow.warnings.empty());
  EXPECT_LT(narrow.level_dba, by_spectrum - 30);
}

TEST(Hiss, RefusesWhatItCannotKnow) {
  const Earphone earphone = resistive_earphone(16);
  EXPECT_THROW(hiss(Chain("", source(0, 1), {}), earphone), InputError);
  Earphone mute = earphone;
  mute.sensitivity.reset();
  EXPECT_THROW(hiss(Chain("", noisy(1e-6), {}), mute), InputError);
  HissOptions options;
  options.control_db = 3;
  EXPECT_THROW(hiss(Chain("", noisy(1e-6), {}), earphone, options), InputError);
  options = {};
  options.pad_db = 0;
  EXPECT_THROW(hiss(Chain("", noisy(1e-6), {}), earphone, options), InputError);
  options = {};
  options.kelvin = -1;
  EXPECT_THROW(hiss(Chain("", noisy(1e-6), {SeriesStage{1, 0}}), earphone, options), InputError);
}

}  // namespace
}  // namespace ohmtilt::test
