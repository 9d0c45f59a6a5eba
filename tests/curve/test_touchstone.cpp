#include <gmock/gmock.h>

#include <ohmtilt/base/decibel.h>
#include <ohmtilt/curve/touchstone.h>
#include <ohmtilt/text/error.h>
#include <cmath>

#include "tests/support.h"

namespace ohmtilt {
namespace {

using testing::AllOf;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::Pointwise;

std::vector<double> listed(const Array& values) { return {values.begin(), values.end()}; }

Read<TouchstoneOnePort> port(const std::string& text) { return parse_touchstone(text, "p.s1p"); }

std::string refused_port(const std::string& text) {
  return test::message([&] { port(text); });
}
std::string refused_file(const std::string& name) {
  return test::message([&] { read_impedance(test::data("touchstone/" + name)); });
}

Complex ohm(const TouchstoneOnePort& p, Eigen::Index i) {
  return std::polar(p.magnitude_ohm[i], p.phase_deg[i] * degree);
}

// Source: OWN files, expected.csv beside them (16+j5, 17+j9, 20+j16 ohm at 1, 2, 4 kHz).
TEST(Touchstone, AllGoodFilesGiveTheSameThreeImpedances) {
  const auto expected = test::csv_rows(test::data("touchstone/expected.csv"));
  int files = 0;
  for (const auto& entry : std::filesystem::directory_iterator(test::data("touchstone"))) {
    if (!entry.path().filename().string().starts_with("ok_")) continue;
    ++files;
    const auto [curve, warnings] = read_impedance(entry.path());
    EXPECT_THAT(warnings, IsEmpty()) << entry.path();
    ASSERT_EQ(curve.points(), 3) << entry.path();
    for (Eigen::Index i = 0; i < 3; ++i) {
      const auto& row = expected[static_cast<std::size_t>(i)];
      const Complex z = curve.impedance_ohm()[i];
      EXPECT_NEAR(curve.frequency_hz()[i], std::stod(row.at("f_Hz")), 1e-9) << entry.path();
      EXPECT_NEAR(z.real(), std::stod(row.at("Z_re_ohm")), 1e-8) << entry.path();  // 12 digits of S
      EXPECT_NEAR(z.imag(), std::stod(row.at("Z_im_ohm")), 1e-8) << entry.path();
    }
  }
  EXPECT_EQ(files, 9);
}

TEST(Touchstone, BadFilesAreRefusedWithPlaceAndRemedy) {
  EXPECT_THAT(refused_file("bad_S_equals_one.s1p"),
              AllOf(HasSubstr("one.s1p:3:3: the impedance is infinite here (S = 1"),
                    HasSubstr("; remove the line")));
  EXPECT_THAT(refused_file("bad_decreasing_frequency.s1p"),
              HasSubstr(".s1p:3:1: frequency must rise (got 1000 Hz after 2000 Hz); sort"));
  EXPECT_THAT(refused_file("bad_duplicate_frequency.s1p"),
              HasSubstr(".s1p:3:1: frequency 1000 Hz stands twice; keep one"));
  EXPECT_THAT(refused_file("bad_missing_column.s1p"),
              HasSubstr(".s1p:2: 2 figures on the line, where a one-port has 3"));
  EXPECT_THAT(refused_file("bad_no_option_line.s1p"),
              HasSubstr(".s1p:2: there is no option line above the data; put one"));
  EXPECT_THAT(refused_file("bad_not_a_number.s1p"),
              HasSubstr(".s1p:2:8: \"abc\" stands where a number belongs"));
  EXPECT_THAT(refused_file("bad_unknown_parameter.s1p"),
              HasSubstr(".s1p:1: \"q\" in the option line is no parameter; use S, Y or Z"));
  EXPECT_THAT(refused_file("bad_unknown_unit.s1p"),
              HasSubstr(".s1p:1: \"thz\" in the option line is no unit of frequency; use"));
}

TEST(Touchstone, AnActivePointIsAWarning) {
  const auto [one, warnings] =
      read_touchstone(test::data("touchstone/warn_active_S_above_one.s1p"));
  EXPECT_LT(ohm(one, 0).real(), 0);
  EXPECT_THAT(
      warnings,
      ElementsAre("the resistance is negative (active) at 1 of 1 points, first at 1000 Hz; the "
                  "leads of one channel may be swapped, or the phase is 180 degrees off"));
  EXPECT_THAT(refused_file("warn_active_S_above_one.s1p"),
              HasSubstr(".s1p:3: a curve of one point has no range"));
}

// Source: Touchstone specification, example 8; 196.07617 - j367.11923 ohm (computed from it).
TEST(TouchstoneSpecification, Example8) {
  const auto one = port("! 1-port S-parameter file\n# MHz S MA R 50\n2.000 0.894 -12.136\n").value;
  EXPECT_EQ(one.frequency_hz[0], 2e6);
  EXPECT_NEAR(ohm(one, 0).real(), 196.07617, 5e-6);
  EXPECT_NEAR(ohm(one, 0).imag(), -367.11923, 5e-6);
}

// Source: Touchstone specification, examples 9 (version 1, normalised) and 10 (version 2, ohms).
TEST(TouchstoneSpecification, Examples9And10AreTheSameImpedance) {
  const auto nine =
      port(
          "# MHz Z MA R 75\n100 0.99 -4\n200 0.80 -22\n300 0.707 -45\n400 0.40 -62\n500 0.01 -89\n")
          .value;
  const auto ten = port(
      "[Version] 2.0\n# MHz Z MA\n[Number of Ports] 1\n[Number of Frequencies] 5\n[Reference] "
      "20.0\n[Network Data]\n"
      "100 74.25 -4\n200 60 -22\n300 53.025 -45\n400 30 -62\n500 0.75 -89\n[End]\n");
  EXPECT_THAT(ten.warnings, IsEmpty());
  const std::vector<double> expected_ohm = {74.25, 60, 53.025, 30, 0.75};
  EXPECT_THAT(listed(nine.magnitude_ohm), Pointwise(testing::DoubleEq(), expected_ohm));
  EXPECT_THAT(listed(ten.value.magnitude_ohm), Pointwise(testing::DoubleEq(), expected_ohm));
  EXPECT_THAT(listed(nine.phase_deg), ElementsAre(-4, -22, -45, -62, -89));
  EXPECT_THAT(listed(ten.value.phase_deg), ElementsAre(-4, -22, -45, -62, -89));
  EXPECT_EQ(ten.value.options.reference_ohm, 20);
}

// Source: Touchstone specification, example 2 (no [Network Data] line).
TEST(TouchstoneSpecification, Example2) {
  const auto two = port(
      "[Version] 2.0\n# MHz Z MA\n[Number of Ports] 1\n[Number of Frequencies] 5\n[Reference] "
      "20.0\n"
      "1 11 10\n2 12 20\n3 13 30\n4 14 40\n5 15 50\n[End]\n");
  EXPECT_THAT(listed(two.value.magnitude_ohm), ElementsAre(11, 12, 13, 14, 15));
  EXPECT_THAT(listed(two.value.phase_deg), ElementsAre(10, 20, 30, 40, 50));
  EXPECT_THAT(listed(two.value.frequency_hz), ElementsAre(1e6, 2e6, 3e6, 4e6, 5e6));
  EXPECT_THAT(two.warnings, ElementsAre(HasSubstr("no [Network Data] line")));
}

TEST(Touchstone, ReferenceMayStandOnTheNextLineAndInformationIsSkipped) {
  const auto one = port(
      "[Version] 2.0\n# Hz S RI R 50\n[Number of Ports] 1\n[Reference]\n! ohms\n20\n[Begin "
      "Information]\nany words 1 2\n"
      "[Anything] 7\n[End Information]\n[Number of Frequencies] 1\n[Network Data]\n5 0 "
      "0\n[End]\nnot read\n");
  EXPECT_EQ(one.value.magnitude_ohm[0], 20);  // S = 0: Z is the reference
  EXPECT_THAT(one.warnings, IsEmpty());
}

TEST(Touchstone, RefusesWhatIsNotAOnePort) {
  EXPECT_THAT(refused_port("# Hz S RI R 50\n1 0 0 0 0 0 0 0 0\n"),
              HasSubstr("p.s1p:2: 9 figures on the line, where a one-port has 3 (a frequency and "
                        "one pair); this is a two-port"));
  EXPECT_THAT(refused_port("# Hz H RI R 50\n1 0 0\n"),
              HasSubstr("p.s1p:1: \"h\" in the option line belongs to two-ports"));
  EXPECT_THAT(refused_port("[Version] 2.0\n# Hz S RI\n[Number of Ports] 2\n"),
              HasSubstr("p.s1p:3: the number of ports is \"2\"; give a one-port"));
  EXPECT_THAT(refused_port("[Version] 2.0\n# Hz S RI\n[Two-Port Data Order] 21_12\n"),
              HasSubstr("belongs to files of two and more ports"));
  EXPECT_THAT(refused_port("[Version] 2.0\n# Hz S RI\n[Noise Data]\n"),
              HasSubstr("[noise data] belongs to files of two"));
}

TEST(Touchstone, RefusesFaultyOptionLines) {
  EXPECT_THAT(refused_port("# Hz S RI R\n1 0 0\n"),
              HasSubstr("R in the option line is not followed by a resistance above 0 ohm"));
  EXPECT_THAT(refused_port("# Hz S RI R -50\n1 0 0\n"),
              HasSubstr("above 0 ohm; write for example \"R 50\""));
  EXPECT_THAT(refused_port("# Hz kHz S\n1 0 0\n"),
              HasSubstr("\"khz\" in the option line says a second time"));
  EXPECT_THAT(refused_port("# Hz S XY R 50\n1 0 0\n"),
              HasSubstr("\"xy\" in the option line is not understood; write the line as"));
}

TEST(Touchstone, RefusesFaultyKeywords) {
  EXPECT_THAT(refused_port("[Version] 3\n"),
              HasSubstr("p.s1p:1: [Version] 3 is not understood here"));
  EXPECT_THAT(refused_port("[Version\n"), HasSubstr("the keyword has no closing bracket"));
  EXPECT_THAT(refused_port("# Hz S RI\n[Network Data]\n"),
              HasSubstr("[network data] stands in a file without [Version] 2.0"));
  EXPECT_THAT(
      refused_port("[Version] 2.0\n# Hz\n[Network Date]\n"),
      HasSubstr("[network date] is no keyword of the format; did you mean [network data]?"));
  EXPECT_THAT(refused_port(
                  "[Version] 2.0\n# Hz\n[Number of Frequencies] 2\n[Network Data]\n1 0 0\n[End]\n"),
              HasSubstr("[Number of Frequencies] says 2 and there are 1"));
  EXPECT_THAT(refused_port("[Version] 2.0\n# Hz\n[Reference] x\n"),
              HasSubstr("the reference \"x\" is no resistance above 0 ohm"));
}

TEST(Touchstone, RefusesFiguresThatAreNoImpedance) {
  EXPECT_THAT(refused_port("# Hz S RI R 50\n1 -1 0\n"),
              HasSubstr("p.s1p:2:3: the impedance is zero here"));
  EXPECT_THAT(refused_port("# Hz Y RI R 50\n1 0 0\n"),
              HasSubstr("the impedance is infinite here (S = 1, Y = 0"));
  EXPECT_THAT(refused_port("# Hz Z RI R 50\n1 inf 0\n"),
              HasSubstr("p.s1p:2:3: \"inf\" stands where a number belongs"));
  EXPECT_THAT(refused_port("# Hz Z MA R 50\n1 -2 0\n"), HasSubstr("a magnitude is negative (-2)"));
  EXPECT_THAT(refused_port("# Hz Z RI R 50\n0 1 0\n"),
              HasSubstr("p.s1p:2:1: the frequency must be positive and finite (got 0)"));
  EXPECT_THAT(refused_port("# Hz Z RI R 50\n"), HasSubstr("p.s1p: there are no data lines in it"));
  EXPECT_THAT(refused_port(""), HasSubstr("p.s1p: the file is empty"));
}

TEST(Touchstone, IsRecognisedByEndingOrContent) {
  EXPECT_TRUE(is_touchstone("", "a.S1P"));
  EXPECT_TRUE(is_touchstone("", "a.ts"));
  EXPECT_TRUE(is_touchstone("", "a.s2p"));
  EXPECT_TRUE(is_touchstone("! x\n\n# khz s ma r 50\n", "a.txt"));
  EXPECT_TRUE(is_touchstone("# Z RI\n", "a.txt"));
  EXPECT_TRUE(is_touchstone("[Version] 2.0\n", "a.txt"));
  EXPECT_FALSE(is_touchstone("# Hz Z\n20 16\n", "a.txt"));  // a table's header in a comment
  EXPECT_FALSE(is_touchstone("# Hz dB\n20 16\n", "a.txt"));
  EXPECT_FALSE(is_touchstone("# title: Z\n20 16\n", "a.txt"));
  EXPECT_FALSE(is_touchstone("frequency_hz,magnitude_ohm\n", "a.csv"));
  EXPECT_FALSE(is_touchstone("", "a.sp"));
  EXPECT_EQ(
      parse_impedance("# Hz Z RI R 1\n20 3 4\n40 3 4\n", "a.txt").read.value.magnitude_ohm()[0], 5);
  EXPECT_THAT(test::message([] { parse_response("# Hz Z RI R 1\n20 3 4\n40 3 4\n", "a.txt"); }),
              HasSubstr("an impedance, not a response"));
}

TEST(Touchstone, DescribesItsLayout) {
  const auto file = parse_impedance("# kHz Y RI R 50\n1 1 0\n2 1 0\n", "a.s1p");
  EXPECT_EQ(to_string(file.layout),
            "Touchstone 1.1: kHz Y RI R 50; frequency in kHz, magnitude in ohm, converted and "
            "phase in degrees");
}

ImpedanceCurve example() {
  Array hz(3), magnitude(3), phase(3);
  hz << 20.000000000000004, 1000, 20000.1;
  magnitude << 16.1, 1.0 / 3, 1234.5678901234567;
  phase << -0.1, 89.99999999999999, 1e-17;
  return {{"A\nB! c", "sealed", "computed", ""}, hz, magnitude, phase};
}

TEST(WriteTouchstone, ReadsBackBitForBitByDefault) {
  const ImpedanceCurve curve = example();
  for (const int version : {1, 2}) {
    TouchstoneOptions options;
    options.version = version;
    const auto back = parse_impedance(touchstone_text(curve, options), "b.s1p").read;
    EXPECT_THAT(back.warnings, IsEmpty());
    EXPECT_TRUE((back.value.frequency_hz() == curve.frequency_hz()).all());
    EXPECT_TRUE((back.value.magnitude_ohm() == curve.magnitude_ohm()).all());
    EXPECT_TRUE((back.value.phase_deg() == curve.phase_deg()).all());
    EXPECT_EQ(back.value.notes().title,
              "A\u21b5"
              "B! c");
    EXPECT_EQ(back.value.notes().condition, "sealed");
  }
}

TEST(WriteTouchstone, ReadsBackInEveryForm) {
  const ImpedanceCurve curve = example();
  for (const int version : {1, 2})
    for (const double unit : {1.0, 1e3, 1e6, 1e9})
      for (const auto parameter : {TouchstoneParameter::scattering, TouchstoneParameter::admittance,
                                   TouchstoneParameter::impedance})
        for (const auto format :
             {TouchstoneFormat::magnitude_angle, TouchstoneFormat::decibel_angle,
              TouchstoneFormat::real_imaginary}) {
          const TouchstoneOptions options{version, unit, parameter, format, 50};
          const auto back = parse_impedance(touchstone_text(curve, options), "b.ts").read.value;
          for (Eigen::Index i = 0; i < 3; ++i) {
            EXPECT_NEAR(back.frequency_hz()[i] / curve.frequency_hz()[i], 1, 1e-15)
                << to_string(options);
            EXPECT_LT(std::abs(back.impedance_ohm()[i] / curve.impedance_ohm()[i] - 1.0), 1e-11)
                << to_string(options);
          }
        }
}

// 16 + j5 ohm against 50 ohm, converted with NumPy by S = (Z - R)/(Z + R) (Touchstone 1.1).
TEST(WriteTouchstone, WritesWhatNumPyConverts) {
  const ImpedanceCurve curve =
      parse_impedance("Hz,Re,Im\n1000,16,5\n2000,17,9\n", "c.csv").read.value;
  const auto text = touchstone_text(
      curve, {1, 1, TouchstoneParameter::scattering, TouchstoneFormat::decibel_angle, 50});
  EXPECT_THAT(text, HasSubstr("# Hz S DB R 50\n1000 -5.6932335556"));
  EXPECT_THAT(text, HasSubstr(" 167.30179989"));
  EXPECT_THAT(touchstone_text(curve, {1, 1e3, TouchstoneParameter::impedance,
                                      TouchstoneFormat::real_imaginary, 50}),
              HasSubstr("# kHz Z RI R 50\n1 0.3"));
}

TEST(WriteTouchstone, RefusesWhatTheFormatCannotSay) {
  const ImpedanceCurve magnitude_only({}, Array::LinSpaced(2, 20, 40), Array::LinSpaced(2, 16, 17));
  EXPECT_THAT(test::message([&] { touchstone_text(magnitude_only); }), HasSubstr("needs a phase"));
  TouchstoneOptions options;
  options.reference_ohm = 0;
  EXPECT_THAT(test::message([&] { touchstone_text(example(), options); }),
              HasSubstr("a reference of 0 ohm is not possible"));
  options = {};
  options.unit_hz = 10;
  EXPECT_THAT(test::message([&] { touchstone_text(example(), options); }),
              HasSubstr("a unit of 10 Hz"));
  options = {};
  options.version = 3;
  EXPECT_THAT(test::message([&] { touchstone_text(example(), options); }),
              HasSubstr("version 3 is not written"));
}

}  // namespace
}  // namespace ohmtilt
