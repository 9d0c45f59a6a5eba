#include <algorithm>
#include <cmath>

#include <ohmtilt/base/preferred_values.h>
#include <ohmtilt/text/error.h>

#include "tests/support.h"

namespace ohmtilt {
namespace {

// IEC 60063, every series: tests/data/e_series.csv (its source is in the file).
TEST(PreferredValues, AreThoseOfTheStandard) {
  std::map<std::string, std::vector<double>> published;
  for (const auto& row : test::csv_rows(test::data("e_series.csv")))
    published[row.at("series")].push_back(std::stod(row.at("value")));
  ASSERT_EQ(published.size(), 7u);
  for (const auto& [name, values] : published) {
    const auto own = decade(parse_series(name));
    ASSERT_EQ(own.size(), values.size()) << name;
    const double scale = values.front();
    for (std::size_t i = 0; i < own.size(); ++i)
      EXPECT_DOUBLE_EQ(own[i], values[i] / scale) << name;
  }
}

TEST(PreferredValues, SpanDecadesWithBothEnds) {
  const auto values = preferred_values(Series::E24, 1, 1000);
  EXPECT_EQ(values.size(), 3u * 24 + 1);
  EXPECT_EQ(values.front(), 1);
  EXPECT_EQ(values.back(), 1000);
  EXPECT_TRUE(std::is_sorted(values.begin(), values.end()));
  EXPECT_EQ(preferred_values(Series::E96, 4.99, 4.99), std::vector<double>{4.99});
  EXPECT_EQ(preferred_values(Series::E24, 0.33, 0.36), (std::vector<double>{0.33, 0.36}));
  EXPECT_TRUE(preferred_values(Series::E6, 1.1, 1.4).empty());
  EXPECT_THROW(preferred_values(Series::E6, 0, 10), InputError);
  EXPECT_THROW(preferred_values(Series::E6, 10, 1), InputError);
}

TEST(ParseSeries, NamesTheSeriesThereAre) {
  EXPECT_EQ(parse_series("e96"), Series::E96);
  EXPECT_THROW(parse_series("E25"), InputError);
  EXPECT_THROW(parse_series(""), InputError);
}

}  // namespace
}  // namespace ohmtilt
