// Thresholds of hearing, programme spectrum and exposure against the published tables.
#include <ohmtilt/hearing/hearing_threshold.h>
#include <ohmtilt/hearing/noise_exposure.h>
#include <ohmtilt/hearing/programme_spectrum.h>

#include <cmath>

#include "tests/support.h"

namespace ohmtilt::test {
namespace {

// ISO 389-2:1994 and ISO 389-5:2006, ISO 389-7:2019: public transcriptions, see the data's first
// lines.
TEST(HearingThreshold, OfInsertEarphonesIsTheStandards) {
  int rows = 0;
  for (const auto& row : csv_rows(data("iso389_2_retspl_insert.csv"))) {
    const double hz = std::stod(row.at("frequency_Hz"));
    if (row.at("standard") == "ISO389-5" && hz == 8000) continue;  // ISO 389-2 holds there
    EXPECT_EQ(hearing_threshold_db(HearingThreshold::insert, hz), std::stod(row.at("RETSPL_dB")))
        << hz;
    ++rows;
  }
  EXPECT_EQ(rows, 29);
  EXPECT_FALSE(hearing_threshold_db(HearingThreshold::insert, 124.9));
  EXPECT_FALSE(hearing_threshold_db(HearingThreshold::insert, 16001));
  // Just above 8 kHz the other part of the standard begins, at its own 19 dB.
  EXPECT_NEAR(*hearing_threshold_db(HearingThreshold::insert, 8000.01), 19, 1e-3);
}

TEST(HearingThreshold, OfTheFreeFieldIsTheStandards) {
  int rows = 0;
  for (const auto& row : csv_rows(data("iso389_7_threshold.csv"))) {
    const double hz = std::stod(row.at("frequency_Hz"));
    EXPECT_EQ(hearing_threshold_db(HearingThreshold::free_field, hz),
              std::stod(row.at("free_field_dB")));
    ++rows;
  }
  EXPECT_EQ(rows, 38);
  EXPECT_FALSE(hearing_threshold_db(HearingThreshold::free_field, 19));
  EXPECT_FALSE(hearing_threshold_db(HearingThreshold::free_field, 18001));
}

TEST(HearingThreshold, LiesInTheMiddleInTheMiddleOfTwoFrequencies) {
  EXPECT_NEAR(*hearing_threshold_db(HearingThreshold::insert, std::sqrt(1000.0 * 1250)),
              (5.5 + 8.5) / 2, 1e-12);
}

// IEC 60268-1:1985 table II: public transcription.
TEST(ProgrammeSpectrum, IsTheStandards) {
  int rows = 0;
  for (const auto& row : csv_rows(data("iec60268_1_programme_spectrum.csv"))) {
    const double exact =
        1000 *
        std::pow(10.0, std::round(10 * std::log10(std::stod(row.at("exact_Hz")) / 1000)) / 10);
    EXPECT_NEAR(programme_level_db(exact), std::stod(row.at("table_dB")), 1e-9);
    ++rows;
  }
  EXPECT_EQ(rows, 31);
  EXPECT_EQ(programme_level_db(10), -13.5);
  EXPECT_EQ(programme_level_db(30000), -21.6);
}

TEST(ProgrammeSpectrum, MeansAConstantToItself) {
  const Array hz = log_grid({20, 20000}, 333);
  EXPECT_NEAR(programme_mean(hz, Array::Constant(333, 7)), 7, 1e-12);
  // All of the power below 1 kHz is more than half of it: the spectrum falls above 2 kHz.
  const Array below = (hz < 1000).select(Array::Ones(333), Array::Zero(333));
  EXPECT_GT(programme_mean(hz, below), 0.5);
  EXPECT_LT(programme_mean(hz, below), 0.8);
}

// NIOSH 1998: the rows printed by the CDC (85 8 h, 88 4 h, 91 2 h, 94 60 min, 97 30 min, 100 15
// min), and the whole table worked out from the formula.
TEST(NoiseExposure, IsNiosh) {
  const std::pair<double, double> printed[] = {{85, 480}, {88, 240}, {91, 120},
                                               {94, 60},  {97, 30},  {100, 15}};
  for (const auto& [level, minutes] : printed) EXPECT_NEAR(niosh_minutes_at(level), minutes, 1e-9);
  int rows = 0;
  for (const auto& row : csv_rows(data("niosh_durations.csv"))) {
    EXPECT_NEAR(niosh_minutes_at(std::stod(row.at("level_dBA"))), std::stod(row.at("minutes")),
                5.1e-5);
    ++rows;
  }
  EXPECT_EQ(rows, 51);
}

// WHO and ITU-T H.870: 80 dB(A) for 40 h a week; the other rows by equal energy, computed with
// NumPy.
TEST(NoiseExposure, IsH870ForAWeek) {
  const std::pair<double, double> rows[] = {{80, 40},    {83, 20.047}, {86, 10.048}, {89, 5.036},
                                            {92, 2.524}, {95, 1.265},  {100, 0.4}};
  for (const auto& [level, hours] : rows) EXPECT_NEAR(weekly_hours_at(level), hours, 5.1e-4);
}

// EN 50332-2: 150 mV and 75 mV for 94 dB meet at the 100 dB of EN 50332-1.
TEST(NoiseExposure, En50332MeetsAtOneHundredDecibels) {
  EXPECT_NEAR(earphone_least_volt_db + 20 * std::log10(player_limit_volt / earphone_least_volt),
              100, 0.03);
}

}  // namespace
}  // namespace ohmtilt::test
