#include <cmath>

#include <ohmtilt/hearing/weighting.h>

#include "tests/support.h"

namespace ohmtilt {
namespace {

// IEC 61672-1:2013 table 3 at exact third-octaves: tests/data/weighting_and_third_octave.csv (its
// source is in the file). The table is rounded to 0.1 dB.
TEST(AWeighting, AgreesWithTheStandardsTable) {
  int rows = 0;
  for (const auto& row : test::csv_rows(test::data("weighting_and_third_octave.csv"))) {
    const double hz = std::stod(row.at("exact_Hz"));
    EXPECT_NEAR(a_weighting_db(hz), std::stod(row.at("A_table_dB")), 0.05) << hz;
    EXPECT_NEAR(a_weighting_db(hz), std::stod(row.at("A_formula_at_exact_dB")), 1e-4) << hz;
    ++rows;
  }
  EXPECT_EQ(rows, 34);
  EXPECT_EQ(a_weighting_db(1000), 0);
}

TEST(AWeighting, FallsBy80And40DecibelsADecadeFarOut) {
  EXPECT_NEAR(a_weighting_db(0.1) - a_weighting_db(0.01), 80, 0.01);
  EXPECT_NEAR(a_weighting_db(1e7) - a_weighting_db(1e8), 40, 0.01);
}

}  // namespace
}  // namespace ohmtilt
