// Headroom: levels, limits, programme, volume control.
#include <ohmtilt/analysis/level/headroom.h>
#include <ohmtilt/analysis/level/headroom_cautions.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/text/error.h>

#include <cmath>

#include "tests/analysis/levels.h"

namespace ohmtilt::test {
namespace {

// IEC 61938 source (120 ohm, 5 V; IEC 60268-7 8.3.1) on 32, 300 and 600 ohm: computed with
// NumPy.
TEST(Headroom, OfTheIec61938SourceIsTheWorkedExample) {
  struct Row {
    double ohm, volt, milliwatt;
  };
  for (const Row& row : {Row{32, 1.0526, 34.6}, Row{300, 3.5714, 42.5}, Row{600, 4.1667, 28.9}}) {
    const auto result = headroom(Chain("", source(120, 5), {}), resistive_earphone(row.ohm), {});
    const double volt = amplitude_from_db(result.largest.spl_db[7] - 120);
    EXPECT_NEAR(volt, row.volt, 5.1e-5);
    EXPECT_NEAR(1000 * volt * volt / row.ohm, row.milliwatt, 0.051);
  }
}

// EN 50332-2: 150 mV on an earphone that needs 75 mV for 94 dB (116.50 dB at 1 V) give 100.02 dB.
TEST(Headroom, AgreesWithEn50332) {
  const double sensitivity = 94 - 20 * std::log10(0.075);
  EXPECT_NEAR(sensitivity, 116.50, 0.005);
  const auto result =
      headroom(Chain("", source(0, 0.15), {}), resistive_earphone(32, sensitivity), {});
  EXPECT_NEAR(result.largest.spl_db[0], 100.02, 0.005);
}

TEST(Headroom, OfProgrammeOnAFlatEarphoneIsThatOfATone) {
  HeadroomOptions options;
  options.target_db = 94;
  options.crest_db = 12;
  const auto result = headroom(Chain("", source(4, 2), {}), resistive_earphone(16), options);
  const double volt = amplitude_from_db(94 + 12 - 120);
  EXPECT_NEAR(result.target.volt, volt, 1e-12);
  EXPECT_NEAR(result.target.ampere, volt / 16, 1e-13);
  EXPECT_NEAR(result.target.watt, volt * volt / 16, 1e-14);
  EXPECT_NEAR(result.target.emf_volt, volt * 20 / 16, 1e-12);
  EXPECT_NEAR(result.target.headroom_db, db_from_amplitude(2 * 0.8 / volt), 1e-10);
  // Largest level and target are on one scale.
  EXPECT_NEAR(result.largest.spl_db[0], 94 + 12 + result.target.headroom_db, 1e-10);
  // NumPy (tests/outside/reference_headroom.py --print): programme of IEC 60268-1 is 2.6098 dB less
  // with weighting A, from 20 Hz to 20 kHz.
  EXPECT_NEAR(result.target.level_dba, 94 - 2.6098, 2e-3);
  EXPECT_NEAR(result.niosh_minutes_a_day,
              std::min(1440.0, 480 / std::exp2((result.target.level_dba - 85) / 3)), 1e-9);
}

TEST(Headroom, IsEndedByTheSmallestLimit) {
  Source limited = source(0, 2);
  limited.max_ampere = 0.1;
  Earphone earphone = resistive_earphone(16);
  auto result = headroom(Chain("", limited, {}), earphone, {});
  EXPECT_EQ(result.largest.limited_by[0], Limit::current);
  EXPECT_NEAR(result.largest.spl_db[0], 120 + db_from_amplitude(0.1 * 16), 1e-10);
  earphone.max_watt = 0.04;
  earphone.rated_ohm = 16;
  result = headroom(Chain("", limited, {}), earphone, {});
  EXPECT_EQ(result.largest.limited_by[0], Limit::earphone);
  EXPECT_EQ(result.target.limited_by, Limit::earphone);
  EXPECT_NEAR(result.largest.spl_db[0], 120 + db_from_amplitude(std::sqrt(0.04 * 16)), 1e-10);
  earphone.rated_ohm.reset();  // the same by active power
  result = headroom(Chain("", limited, {}), earphone, {});
  EXPECT_NEAR(result.largest.spl_db[0], 120 + db_from_amplitude(std::sqrt(0.04 * 16)), 1e-10);
}

TEST(Headroom, CountsTheCurrentBeforeTheStages) {
  Source limited = source(1, 10);
  limited.max_ampere = 0.1;
  // 16 ohm behind 15 ohm in series, with 16 ohm across: the amplifier sees 1 + 15 + 8.
  const Chain padded("", limited, {Pad{PadTopology::L, {15, 16}, 0}});
  const auto result = headroom(padded, resistive_earphone(16), {});
  EXPECT_EQ(result.largest.limited_by[0], Limit::current);
  EXPECT_NEAR(result.largest.spl_db[0], 120 + db_from_amplitude(0.05 * 16), 1e-10);
  EXPECT_NEAR(result.largest.emf_volt[0], 2.4, 1e-12);
}

TEST(Headroom, OfSensitivityReadsBothWays) {
  const auto result = headroom(Chain("", source(0, 1), {}), resistive_earphone(32, 115), {});
  // Published: 100 dB at 1 mW and 32 ohm is 115 dB at 1 V (exactly 114.9485).
  EXPECT_NEAR(result.sensitivity.db_per_milliwatt, 100, 0.052);
  EXPECT_EQ(result.sensitivity.milliwatt_of, MilliwattOf::impedance);
  for (const auto& row : csv_rows(data("sensitivity_conversion.csv"))) {
    const double ohm = std::stod(row.at("R_ohm"));
    const auto both =
        headroom(Chain("", source(0, 1), {}),
                 resistive_earphone(ohm, std::stod(row.at("dB_per_V_for_100_dB_per_mW"))), {})
            .sensitivity;
    EXPECT_NEAR(both.db_per_milliwatt, 100, 5e-5);
  }
}

Chain with_volume(VolumeLaw law, std::vector<Stage> stages = {}) {
  Source one = source(0, 2);
  one.input_volt = 2;
  one.gain_db = {0, 6};
  one.volume = std::move(law);
  one.max_ampere = 0.05;
  return {"", one, std::move(stages)};
}

TEST(Headroom, PutsTheVolumeControlWhereTheTargetIs) {
  const auto result = headroom(with_volume(LinearTaper{}), resistive_earphone(32, 125), {});
  ASSERT_EQ(result.gain.size(), 2u);
  // 105 dB at 125 dB for 1 V: 0.1 V of 2 V full scale.
  EXPECT_NEAR(*result.gain[0].travel_percent, 5, 1e-9);
  EXPECT_NEAR(*result.gain[0].clip_open_percent, 100, 1e-9);
  // 50 mA into 32 ohm: 1.6 V of 2 V.
  EXPECT_NEAR(*result.gain[0].clip_loaded_percent, 80, 1e-9);
  EXPECT_NEAR(*result.gain[0].trip_percent, 80, 1e-9);
  const double gain = amplitude_from_db(6);
  EXPECT_NEAR(*result.gain[1].travel_percent, 5 / gain, 1e-9);
  EXPECT_NEAR(*result.gain[1].clip_open_percent, 100 / gain, 1e-9);
  EXPECT_TRUE(result.gain_without_pad.empty());
}

TEST(Headroom, MovesUpWithAPad) {
  const auto result =
      headroom(with_volume(AudioTaper{}, {Pad{PadTopology::L, {28.8, 3.5555555555555554}, 0}}),
               resistive_earphone(32, 125), {});
  // The pad into 32 ohm: 3.2 / 32 = a tenth.
  ASSERT_EQ(result.gain_without_pad.size(), 2u);
  EXPECT_NEAR(result.gain[0].control_db - result.gain_without_pad[0].control_db, 20, 1e-9);
  EXPECT_GT(*result.gain[0].travel_percent, *result.gain_without_pad[0].travel_percent);
  EXPECT_LT(result.gain[0].imbalance->db, result.gain_without_pad[0].imbalance->db);
  EXPECT_FALSE(result.gain[0].imbalance->measured);
}

TEST(VolumePosition, InvertsEachLaw) {
  VolumeTable table{"", (Array(3) << 0, 40, 100).finished(), (Array(3) << -80, -30, 0).finished(),
                    (Array(3) << 4, 1, 0).finished()};
  for (const VolumeLaw& law : {VolumeLaw(LinearTaper{}), VolumeLaw(AudioTaper{}), VolumeLaw(table)})
    for (const double travel : {1.0, 33.0, 50.0, 77.7, 100.0})
      EXPECT_NEAR(*travel_at_gain(law, volume_gain_db(law, travel)), travel, 1e-9);
  // By hand: the audio taper at -20 dB has a tenth of the track, a third of the travel.
  EXPECT_NEAR(*travel_at_gain(AudioTaper{}, -20), 100.0 / 3, 1e-9);
  EXPECT_FALSE(travel_at_gain(LinearTaper{}, 0.1));
  EXPECT_FALSE(travel_at_gain(table, -81));
  EXPECT_FALSE(travel_at_gain(DecibelSteps{0.5}, -20));
  EXPECT_NEAR(imbalance_at(table, 20).db, 2.5, 1e-12);
  EXPECT_TRUE(imbalance_at(table, 20).measured);
}

// Common practice, no source: 2 dB of tracking down to -40 dB is an ordinary grade.
TEST(VolumePosition, HasTheUsualImbalance) {
  EXPECT_NEAR(usual_imbalance_db(-40), 2, 1e-12);
  EXPECT_NEAR(usual_imbalance_db(-30), 1.5, 1e-12);
  EXPECT_EQ(usual_imbalance_db(-100), 4);
  EXPECT_NEAR(usual_imbalance_db(0), 0.2, 1e-12);
}

TEST(Headroom, AtOnePositionALouderSourceNeedNotBeTheStronger) {
  Source gainy = source(0, 1);
  gainy.input_volt = 4;
  gainy.volume = LinearTaper{};
  Source strong = source(0, 5);
  strong.input_volt = 1;
  strong.volume = LinearTaper{};
  const Chain a("a", gainy, {});
  const Chain b("b", strong, {});
  const Earphone earphone = resistive_earphone(32);
  const auto first = headroom(a, earphone, {});
  const auto second = headroom(b, earphone, {});
  const auto same = at_same_position(a, first, b, second);
  ASSERT_TRUE(same);
  EXPECT_NEAR(same->level_db, 85, 1e-9);
  EXPECT_NEAR(same->level_db - same->against_level_db, db_from_amplitude(4), 1e-9);
  EXPECT_NEAR(same->against_largest_db - same->largest_db, db_from_amplitude(5), 1e-9);
}

bool has_warning(const Headroom& result, const std::string& text) {
  for (const auto* all : {&result.cautions, &result.warnings})
    for (const auto& warning : *all)
      if (warning.find(text) != std::string::npos) return true;
  return false;
}

TEST(Headroom, CautionsWhereSomethingCanHurt) {
  HeadroomOptions loud;
  loud.target_db = 100;
  auto result = headroom(Chain("", source(1, 2), {}), resistive_earphone(16), loud);
  // 480 / 2^((97.39 - 85)/3) are 27.4 minutes, rounded down.
  EXPECT_TRUE(
      has_warning(result, "at 97.4 dB(A) the NIOSH (1998) limit is about 27 minutes a day"));
  const OnePort piezo({20, 20000}, [](const Array& hz) -> ComplexArray {
    return 1 / (Complex(0, 2 * 3.14159265358979) * hz * 1e-6);
  });
  Earphone capacitive = resistive_earphone(16);
  capacitive.impedance = piezo;
  result = headroom(Chain("", source(1, 2), {}), capacitive, {});
  EXPECT_TRUE(has_warning(result, "capacitive from 20 Hz up"));
  const auto harmless = headroom(Chain("", source(1, 2), {}), resistive_earphone(16), {}).warnings;
  ASSERT_EQ(harmless.size(), 1u);
  EXPECT_NE(harmless[0].find("max_ampere is not stated"), std::string::npos);
}

// Ohm's law: 4 V behind 0.3 + 18 ohm, 9.1 ohm beside the 32 ohm.
TEST(Headroom, GivesThePlayersVoltageBehindTheStages) {
  const Pad pad{PadTopology::L, {18, 9.1}, 0};
  Source limited = source(0.3, 4);
  const double beside = 9.1 * 32 / 41.1;
  EXPECT_NEAR(headroom(Chain("", limited, {pad}), resistive_earphone(16), {}).player_volt,
              4 * beside / (18.3 + beside), 1e-12);
  limited.max_ampere = 0.1;
  EXPECT_NEAR(headroom(Chain("", limited, {pad}), resistive_earphone(16), {}).player_volt,
              0.1 * beside, 1e-12);
}

// A figure stated for 32 ohm stays as it was stated on an earphone rated 16 ohm.
TEST(Headroom, KeepsTheImpedanceOfAStatedSensitivity) {
  const auto earphone = parse_earphone(
      "impedance = \"two-way-armature.csv\"\nsensitivity_db_per_milliwatt = 100\n"
      "sensitivity_ohm = 32\nrated_ohm = 16\n",
      "x.earphone.toml", source_dir() / "impedance-curves");
  const auto both = headroom(Chain("", source(0, 1), {}), earphone, {}).sensitivity;
  EXPECT_NEAR(both.db_per_milliwatt, 100, 1e-12);
  EXPECT_EQ(both.ohm, 32);
  EXPECT_EQ(both.milliwatt_of, MilliwattOf::stated);
}

/// Points of 2 V behind 10 ohm into 16, 32 and 300 ohm, for a source that states 0.3 ohm.
Source sagging() {
  Source source;
  source.output_ohm = 0.3;
  for (const auto& [ohm, milliwatt] :
       {std::pair(16.0, 94.675), std::pair(32.0, 72.562), std::pair(300.0, 12.487)})
    source.power.push_back({ohm, milliwatt / 1000, continuous_ms, 1.0, std::nullopt, ""});
  return source;
}

// Ohm's law: 94.675 mW into 16 ohm are 1.2308 V, 116.75 dB at 114.95 dB for 1 V; 2 V behind the
// stated 0.3 ohm would be 120.81 dB.
TEST(Headroom, TakesThePointsVoltageBehindTheirOwnResistance) {
  const Earphone earphone = resistive_earphone(16, 114.95);
  HeadroomOptions options;
  options.target_db = 90;
  auto result = headroom(Chain("", sagging(), {}), earphone, options);
  ASSERT_TRUE(result.power->output_fitted);
  EXPECT_NEAR(result.largest.spl_db[7], 114.95 + db_from_amplitude(1.2308), 1e-3);
  EXPECT_NEAR(result.target.spl_db + 20 + result.target.headroom_db, 116.754, 1e-3);
  EXPECT_TRUE(has_warning(result, "2 V behind 10 ohm, not the stated output of 0.3 ohm"));
  // A stated voltage holds as well, and cannot lift what the points show.
  Source stated = sagging();
  stated.open_volt = 2;
  result = headroom(Chain("", stated, {}), earphone, options);
  EXPECT_NEAR(result.largest.spl_db[7], 116.754, 1e-3);
  stated.open_volt = 0.5;
  result = headroom(Chain("", stated, {}), earphone, options);
  EXPECT_NEAR(result.largest.spl_db[7], 114.95 + db_from_amplitude(0.5 * 16 / 16.3), 1e-10);
}

// Behind 15 ohm in series and 16 ohm across, the amplifier sees 23 ohm of a 16 ohm earphone: by
// hand 2 V * 23/33, of which 8/23 arrive.
TEST(Headroom, TakesThePointsVoltageThroughAPadToo) {
  Source source = sagging();
  source.input_volt = 2;
  source.volume = LinearTaper{};
  const auto result =
      headroom(Chain("", source, {Pad{PadTopology::L, {15, 16}, 0}}), resistive_earphone(16), {});
  EXPECT_NEAR(result.largest.spl_db[7], 120 + db_from_amplitude(2 * 8 / 33.0), 2e-3);
  EXPECT_NEAR(*result.gain[0].clip_open_percent, 100, 0.01);
  // Its e.m.f. there is 2 V * 23.3/33.
  EXPECT_NEAR(*result.gain[0].clip_loaded_percent, 100 * 23.3 / 33, 0.01);
}

/// 2 V and 0.1 A of stated limits beside one point.
Headroom with_point(double open_volt, double max_ampere, PowerPoint point) {
  Source stated = source(0, open_volt);
  stated.max_ampere = max_ampere;
  stated.power = {std::move(point)};
  return headroom(Chain("", stated, {}), resistive_earphone(16), {});
}

// By hand: 1 V across 100 ohm is 10 mW, 0.05 A through 4 ohm too.
TEST(Headroom, SaysWhereStatedLimitsAndPowerPointsDiffer) {
  const auto agreeing = with_point(1, 0.1, {100, 0.01, continuous_ms, 1.0, std::nullopt, ""});
  EXPECT_FALSE(has_warning(agreeing, "stated"));
  EXPECT_EQ(agreeing.limits.open_volt, 1);
  const auto low = with_point(2, 0.1, {100, 0.01, continuous_ms, 1.0, std::nullopt, ""});
  EXPECT_NEAR(low.limits.max_ampere.value(), 0.01, 1e-12);  // or its voltage sags: the safe reading
  EXPECT_TRUE(has_warning(low, "max_ampere is stated as 0.1 A, and the power points give 0.01 A"));
  const auto high = with_point(1, 0.1, {100, 0.04, continuous_ms, 1.0, std::nullopt, ""});
  EXPECT_EQ(high.limits.open_volt, 1);
  EXPECT_TRUE(has_warning(high,
                          "0.04 W into 100 ohm is claimed, and the stated open_volt allows "
                          "0.01 W there"));
  const auto current = with_point(2, 0.02, {4, 0.01, continuous_ms, 1.0, std::nullopt, ""});
  EXPECT_EQ(current.limits.max_ampere, 0.02);
  EXPECT_TRUE(has_warning(current, "the stated max_ampere allows 0.002 W there"));
}

// A plain quotient of decibels, with nothing of headroom(): what is left of a day.
TEST(Headroom, NeverAllowsMoreThanADay) {
  HeadroomOptions quiet;
  quiet.target_db = 40;
  const auto result = headroom(Chain("", source(1, 2), {}), resistive_earphone(16), quiet);
  EXPECT_EQ(result.niosh_minutes_a_day, 1440);
}

TEST(Headroom, SaysWhatIsMissing) {
  const auto text_of = [](const Chain& chain, const Earphone& earphone) -> std::string {
    try {
      headroom(chain, earphone, {});
    } catch (const InputError& error) {
      return error.what();
    }
    return "";
  };
  Source nothing;
  EXPECT_NE(
      text_of(Chain("", nothing, {}), resistive_earphone(16)).find("chain file with open_volt"),
      std::string::npos);
  Earphone mute = resistive_earphone(16);
  mute.sensitivity.reset();
  EXPECT_NE(text_of(Chain("", source(0, 1), {}), mute).find("no sensitivity"), std::string::npos);
  nothing.power.push_back({32, 0.5, continuous_ms, 1.0, std::nullopt, ""});
  EXPECT_EQ(text_of(Chain("", nothing, {}), resistive_earphone(16)), "");
  HeadroomOptions bad;
  bad.crest_db = -1;
  EXPECT_THROW(headroom(Chain("", source(0, 1), {}), resistive_earphone(16), bad), InputError);
}

}  // namespace
}  // namespace ohmtilt::test
