#include <gmock/gmock.h>

#include <ohmtilt/curve/two_port_file.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <cmath>

#include "tests/support.h"

namespace ohmtilt {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;

Read<TwoPortData> two(const std::string& text) { return parse_two_port(text, "t.s2p"); }

std::string refused_two_port(const std::string& text) {
  try {
    two(text);
  } catch (const InputError& error) {
    return error.what();
  }
  return "nothing was refused";
}

/// 30 ohm in series between references of 50 ohm: S11 = Z/(Z + 2 R), S21 = 2 R/(Z + 2 R).
constexpr double through = 100.0 / 130, back = 30.0 / 130;
std::string series_30(const std::string& option_line) {
  const std::string row = " " + number_text(back) + " 0 " + number_text(through) + " 0 " +
                          number_text(through) + " 0 " + number_text(back) + " 0\n";
  return option_line + "\n1" + row + "2" + row;
}

// The impedances of expected.csv (16+j5, 17+j9, 20+j16 ohm) in series, by the closed form above.
TEST(TwoPortFile, ReadsSOfASeriesImpedanceInEveryFormat) {
  const auto expected = test::csv_rows(test::data("touchstone/expected.csv"));
  for (const std::string format : {"RI", "MA", "DB"}) {
    std::string text = "# kHz S " + format + " R 50\n";
    const auto pair = [&](Complex s) {
      const double deg = std::arg(s) * 180 / 3.14159265358979323846;
      if (format == "RI") return " " + number_text(s.real()) + " " + number_text(s.imag());
      const double size = format == "MA" ? std::abs(s) : 20 * std::log10(std::abs(s));
      return " " + number_text(size) + " " + number_text(deg);
    };
    std::vector<Complex> z;
    for (const auto& row : expected) {
      z.emplace_back(std::stod(row.at("Z_re_ohm")), std::stod(row.at("Z_im_ohm")));
      const Complex s11 = z.back() / (z.back() + 100.0), s21 = 100.0 / (z.back() + 100.0);
      text += number_text(std::stod(row.at("f_Hz")) / 1000) + pair(s11) + pair(s21) + pair(s21) +
              pair(s11) + "\n";
    }
    const auto [data, warnings] = two(text);
    EXPECT_THAT(warnings, IsEmpty());
    for (Eigen::Index i = 0; i < 3; ++i) {
      const Complex of = z[static_cast<std::size_t>(i)];
      EXPECT_LT(std::abs(data.s.s11[i] - of / (of + 100.0)), 1e-14) << format;
      EXPECT_LT(std::abs(data.s.s21[i] - 100.0 / (of + 100.0)), 1e-14) << format;
    }
    EXPECT_NEAR(data.frequency_hz[1], 2000, 1e-9);
  }
}

// Closed forms: a shunt of G has Y = G everywhere in Z^-1; 20 ohm across is Z11 = Z12 = Z21 = Z22 =
// 20 ohm; S = -R/(R + 2 * 20), S21 = 2 * 20/(R + 2 * 20).
TEST(TwoPortFile, TakesZAsNormalisedInVersion1AndAsOhmInVersion2) {
  const std::string one = "# Hz Z RI R 50\n1 .4 0 .4 0 .4 0 .4 0\n2 .4 0 .4 0 .4 0 .4 0\n";
  const std::string two_zero =
      "[Version] 2.0\n# Hz Z RI\n[Number of Ports] 2\n[Two-Port Data Order] 12_21\n"
      "[Number of Frequencies] 2\n[Reference]\n50 50\n[Network Data]\n"
      "1 20 0 20 0 20 0 20 0\n2 20 0 20 0 20 0 20 0\n[End]\n";
  for (const auto& text : {one, two_zero}) {
    const auto [data, warnings] = two(text);
    EXPECT_THAT(warnings, IsEmpty());
    EXPECT_NEAR(data.s.s11[0].real(), -50.0 / 90, 1e-15);
    EXPECT_NEAR(data.s.s21[1].real(), 40.0 / 90, 1e-15);
  }
}

TEST(TwoPortFile, KnowsThatVersion1Says21Before12) {
  const std::string amplifier = "0 0 2 0 0 0 0 0\n";
  const auto [data, warnings] = two("# Hz S RI R 50\n1 " + amplifier + "2 " + amplifier);
  EXPECT_EQ(data.s.s21[0], 2.0);
  EXPECT_EQ(data.s.s12[0], 0.0);
  ASSERT_EQ(warnings.size(), 2u);
  EXPECT_THAT(warnings[0], HasSubstr("gives out more power than it takes in"));
  EXPECT_THAT(warnings[1], HasSubstr("not the same in both directions"));
}

TEST(TwoPortFile, ReadsEveryOrderOfVersion2) {
  const auto head = [](const std::string& order) {
    return "[Version] 2.0\n# Hz S RI R 50\n[Number of Ports] 2\n" + order +
           "\n[Number of Frequencies] 2\n[Reference] 50 20\n[Network Data]\n";
  };
  const std::string four = " .1 0 .2 0 .3 0 .4 0\n", three = " .1 0 .2 0 .4 0\n";
  const auto of = [&](const std::string& order, const std::string& row) {
    return two(head(order) + "1" + row + "2" + row + "[End]\n").value;
  };
  EXPECT_EQ(of("[Two-Port Data Order] 21_12", four).s.s21[0], 0.2);
  EXPECT_EQ(of("[Two-Port Data Order] 12_21", four).s.s12[0], 0.2);
  for (const char* half : {"Lower", "Upper"}) {
    const auto data = of(std::string("[Matrix Format] ") + half, three);
    EXPECT_EQ(data.s.s12[1], 0.2);
    EXPECT_EQ(data.s.s21[1], 0.2);
    EXPECT_EQ(data.s.s22[1], 0.4);
    EXPECT_THAT(data.reference_ohm, ElementsAre(50, 20));
  }
}

TEST(TwoPortFile, LeavesNoiseOutAndSaysSo) {
  const auto [data, warnings] = two(series_30("# Hz S RI R 50") + "1 2.1 .3 40 .2\n");
  EXPECT_EQ(data.frequency_hz.size(), 2);
  EXPECT_THAT(warnings, ElementsAre("the file's noise data are left out"));
}

TEST(TwoPortFile, RefusesWhatIsNoTwoPort) {
  EXPECT_THAT(refused_two_port("# Hz S RI R 50\n1 .1 0\n"), HasSubstr("this is a one-port"));
  EXPECT_THAT(refused_two_port("# Hz S RI R 50\n1 .1 0 .2\n"), HasSubstr("t.s2p:2: 4 figures"));
  EXPECT_THAT(refused_two_port("# Hz S RI R 50\n1 .1 0 .2 0 .2 0 .1 0\n"),
              HasSubstr("one point has no range"));
  EXPECT_THAT(refused_two_port(series_30("# Hz H RI R 50")), HasSubstr("belongs to two-ports"));
  EXPECT_THAT(refused_two_port("[Version] 2.0\n# Hz S RI\n[Number of Ports] 1\n"),
              HasSubstr("give a two-port file"));
  EXPECT_THAT(refused_two_port("[Version] 2.0\n# Hz S RI\n[Number of Ports] 2\n[Network Data]\n"),
              HasSubstr("[Two-Port Data Order] is missing"));
  EXPECT_THAT(refused_two_port("# Hz Z RI R 1\n1 -1 0 0 0 0 0 -1 0\n"),
              HasSubstr("has no scattering parameters"));
}

TEST(TwoPortFile, ReadsBackBitForBitInBothVersions) {
  TwoPortData data = two(series_30("# Hz S RI R 50")).value;
  data.s.s12[1] = {0.1 + 0.2, -1.0 / 3};
  for (const int version : {1, 2}) {
    const auto again = two(two_port_text(data, version)).value;
    EXPECT_TRUE((again.s.s12 == data.s.s12).all() && (again.s.s21 == data.s.s21).all());
    EXPECT_TRUE((again.s.s11 == data.s.s11).all() && (again.s.s22 == data.s.s22).all());
    EXPECT_TRUE((again.frequency_hz == data.frequency_hz).all());
  }
  data.reference_ohm = {50, 20};
  EXPECT_THROW(two_port_text(data, 1), InputError);
  EXPECT_THAT(two(two_port_text(data, 2)).value.reference_ohm, ElementsAre(50, 20));
}

// A rotation times 0.9 and a diagonal: the largest singular value is known.
TEST(TwoPort, LargestWaveIsTheLargestSingularValue) {
  const ComplexArray a = ComplexArray::Constant(1, 0.9 * 0.6), b = ComplexArray::Constant(1, 0.72);
  EXPECT_NEAR(largest_wave({a, -b, b, a})[0], 0.9, 1e-15);
  const ComplexArray zero = ComplexArray::Zero(1);
  EXPECT_NEAR(largest_wave({a, zero, zero, b})[0], 0.72, 1e-15);
  EXPECT_EQ(one_way_share({zero, zero, zero, zero})[0], 0);
}

TEST(TwoPort, RefusesAFrequencyOutsideItsData) {
  const TwoPort of = two_port(two(series_30("# kHz S RI R 50")).value);
  EXPECT_THROW(of.at(Array::Constant(1, 999)), InputError);
  EXPECT_NEAR(of.reversed().at(Array::Constant(1, 1500)).s21[0].real(), through, 1e-15);
}

}  // namespace
}  // namespace ohmtilt
