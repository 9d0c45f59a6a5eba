#include <gmock/gmock.h>

#include <ohmtilt/curve/column_names.h>
#include <ohmtilt/curve/read_curve.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <cmath>
#include <cstring>
#include <limits>
#include <numbers>
#include <random>

#include "tests/support.h"

namespace ohmtilt {
namespace {

using namespace std::string_literals;
using test::Scratch;
using testing::AllOf;
using testing::Each;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::Not;

CurveFile<ImpedanceCurve> impedance(const std::string& text) {
  return parse_impedance(text, "c.csv");
}
CurveFile<ResponseCurve> response(const std::string& text) { return parse_response(text, "r.csv"); }

std::string refused(const std::string& text) {
  return test::message([&] { impedance(text); });
}
std::string refused_response(const std::string& text) {
  return test::message([&] { response(text); });
}

std::vector<double> list(const Array& values) { return {values.begin(), values.end()}; }

const char* own_text =
    "# title: Two-way (invented)\n# quantity: impedance\n# condition: sealed\n# origin: computed\n"
    "frequency_hz,magnitude_ohm,phase_deg\n20,24.61,-0.31\n40,25,1\n";

TEST(ReadCurve, ReadsItsOwnFormatWithoutAWarning) {
  const auto file = impedance(own_text);
  const ImpedanceCurve& curve = file.read.value;
  EXPECT_THAT(file.read.warnings, IsEmpty());
  EXPECT_TRUE(file.layout.own_format);
  EXPECT_THAT(list(curve.frequency_hz()), ElementsAre(20, 40));
  EXPECT_THAT(list(curve.magnitude_ohm()), ElementsAre(24.61, 25));
  EXPECT_THAT(list(curve.phase_deg()), ElementsAre(-0.31, 1));
  EXPECT_EQ(curve.notes().title, "Two-way (invented)");
  EXPECT_EQ(curve.notes().condition, "sealed");
  EXPECT_EQ(curve.notes().origin, "computed");
  EXPECT_EQ(curve.notes().file, "c.csv");
}

TEST(ReadCurve, ReadsTheDemoEarphones) {
  const auto folder = test::source_dir() / "impedance-curves";
  int curves = 0;
  for (const auto& entry : std::filesystem::directory_iterator(folder)) {
    if (entry.path().extension() != ".csv") continue;
    ++curves;
    const bool is_response = entry.path().stem().extension() == ".response";
    const auto warnings =
        is_response ? read_response(entry.path()).warnings : read_impedance(entry.path()).warnings;
    EXPECT_THAT(warnings, IsEmpty()) << entry.path();
    EXPECT_THAT(test::message([&] {
                  is_response ? void(read_impedance(entry.path()))
                              : void(read_response(entry.path()));
                }),
                HasSubstr("quantity is"))
        << entry.path();
  }
  EXPECT_GE(curves, 10);
}

TEST(ReadCurve, FallsBackToTheStemAsTitle) {
  EXPECT_EQ(parse_impedance("frequency_hz,magnitude_ohm\n20,16\n40,17\n", "a/left ear.csv")
                .read.value.notes()
                .title,
            "left ear");
}

TEST(ReadCurve, ReadsFromAFile) {
  const Scratch scratch;
  const auto file = scratch.write("own.csv", own_text);
  EXPECT_EQ(read_impedance(file).value.notes().file, file.string());
  EXPECT_THAT(test::message([&] { read_impedance(scratch / "absent.csv"); }),
              HasSubstr("there is no such file"));
  EXPECT_THAT(test::message([&] { read_response(scratch.folder()); }),
              HasSubstr("this is a directory"));
}

// Each header names a frequency and a magnitude; the row under it means 1000 Hz and 16 ohm.
struct Wording {
  const char* header;
  const char* rows;
};
class MagnitudeWording : public testing::TestWithParam<Wording> {};
TEST_P(MagnitudeWording, IsUnderstood) {
  const auto file = impedance(std::string(GetParam().header) + "\n" + GetParam().rows);
  EXPECT_NEAR(file.read.value.frequency_hz()[0], 1000, 1e-9);
  EXPECT_NEAR(file.read.value.magnitude_ohm()[0], 16, 1e-12);
  EXPECT_FALSE(file.read.value.has_phase());
  EXPECT_THAT(file.read.warnings, Not(IsEmpty()));
  EXPECT_THAT(file.read.warnings.back(), HasSubstr("read as frequency in "));
}
const char* const in_hz = "1000,16\n2000,17\n";
const char* const in_khz = "1,16\n2,17\n";
INSTANTIATE_TEST_SUITE_P(
    Wordings, MagnitudeWording,
    testing::Values(Wording{"Frequency,Impedance", in_hz}, Wording{"Freq (Hz),Z (Ohm)", in_hz},
                    Wording{"Frequency [Hz],|Z| [Ohms]", in_hz}, Wording{"f/kHz,Z/ohm", in_khz},
                    Wording{"f in kHz,Betrag in Ohm", in_khz},
                    Wording{"Frequenz (kHz),Impedanz (\xce\xa9)", in_khz},
                    Wording{"freq_khz,mag_kohm", "1,0.016\n2,0.017\n"}, Wording{"Hz,ohm", in_hz},
                    Wording{"Hz,Ohms", in_hz},
                    Wording{"Frequency {Hz},Magnitude {\xe2\x84\xa6}", in_hz},
                    Wording{"f,|Z| (k\xce\xa9)", "1000,0.016\n2000,0.017\n"},
                    Wording{"FREQ,MAGNITUDE (K OHM)", "1000,0.016\n2000,0.017\n"},
                    Wording{"Freq.,Imp.", in_hz},
                    Wording{"Fr\xc3\xa9quence (Hz),Imp\xc3\xa9"
                            "dance (Ohm)",
                            in_hz},
                    Wording{"frequency_mhz,Zmag", "0.001,16\n0.002,17\n"},
                    Wording{"\"Frequency (Hz)\",\"Impedance magnitude (ohm)\"", in_hz},
                    Wording{"Frequency,Modulus (mOhm)", "1000,16000\n2000,17000\n"},
                    Wording{"Frequency,Left (ohm)", in_hz}, Wording{"# Hz, Ohm", in_hz},
                    Wording{"* Freq(Hz), Mag(ohms)", in_hz}, Wording{"\"Freq, Z\"", in_hz},
                    Wording{"Frequency,Z\nkHz,ohm", in_khz},
                    Wording{"omega (rad/s),Z (ohm)", "6283.185307179586,16\n10000,17\n"}));

struct PhaseWording {
  const char* name;
  double scale;
};
class PhaseWordings : public testing::TestWithParam<PhaseWording> {};
TEST_P(PhaseWordings, AreUnderstood) {
  const auto file = impedance("Hz,ohm,"s + GetParam().name + "\n20,16,0.5\n40,17,-1\n");
  ASSERT_TRUE(file.read.value.has_phase());
  EXPECT_NEAR(file.read.value.phase_deg()[0], 0.5 * GetParam().scale, 1e-13);
}
constexpr double per_radian = 180 / std::numbers::pi;
INSTANTIATE_TEST_SUITE_P(
    Wordings, PhaseWordings,
    testing::Values(PhaseWording{"Phase", 1}, PhaseWording{"Phase (deg)", 1},
                    PhaseWording{"Phase [\xc2\xb0]", 1}, PhaseWording{"Phase (\xb0)", 1},
                    PhaseWording{"Angle (degrees)", 1}, PhaseWording{"phi", 1},
                    PhaseWording{"\xcf\x86 (\xc2\xb0)", 1}, PhaseWording{"arg(Z)", 1},
                    PhaseWording{"theta/deg", 1}, PhaseWording{"Impedance phase (deg)", 1},
                    PhaseWording{"deg", 1}, PhaseWording{"phase_rad", per_radian},
                    PhaseWording{"Phase (radians)", per_radian},
                    PhaseWording{"arg Z [rad]", per_radian}));

class PartWordings : public testing::TestWithParam<Wording> {};
// |3 + 4j| = 5 at 53.13010235415598 degrees (3-4-5 triangle; atan 4/3).
TEST_P(PartWordings, AreUnderstood) {
  const auto file = impedance("Hz,"s + GetParam().header + "\n" + GetParam().rows);
  EXPECT_DOUBLE_EQ(file.read.value.magnitude_ohm()[0], 5);
  EXPECT_DOUBLE_EQ(file.read.value.phase_deg()[0], 53.13010235415598);
}
const char* const parts = "20,3,4\n40,3,5\n";
INSTANTIATE_TEST_SUITE_P(
    Wordings, PartWordings,
    testing::Values(Wording{"real_ohm,imag_ohm", parts}, Wording{"Re,Im", parts},
                    Wording{"Re(Z),Im(Z)", parts}, Wording{"Re(Z) (ohm),Im(Z) (ohm)", parts},
                    Wording{"Z',Z''", parts}, Wording{"Zreal,Zimag", parts},
                    Wording{"Real part [Ohm],Imaginary part [Ohm]", parts},
                    Wording{"R (ohm),X (ohm)", parts},
                    Wording{"Z real (kohm),Z imag (kohm)", "20,0.003,0.004\n40,0.003,0.005\n"},
                    Wording{"Re(Z),-Im(Z)", "20,3,-4\n40,3,-5\n"},
                    Wording{"Z',-Z''", "20,3,-4\n40,3,-5\n"}));

TEST(ColumnNames, RefusesUnitsThatContradict) {
  EXPECT_FALSE(column_meaning("Voltage (V)"));
  EXPECT_FALSE(column_meaning("Impedance (mS)"));
  EXPECT_FALSE(column_meaning("Impedance (V)"));
  EXPECT_FALSE(column_meaning("Phase (ohm)"));
  EXPECT_FALSE(column_meaning("Frequency (ohm)"));
  EXPECT_FALSE(column_meaning("x"));
  EXPECT_FALSE(column_meaning(""));
}

TEST(ColumnNames, TellsMilliFromMega) {
  for (const char* name : {"Z (mOhm)", "Z (mOhms)", "Z (m ohm)", "Z (milli ohm)"})
    EXPECT_EQ(column_meaning(name)->scale, 1e-3) << name;
  for (const char* name : {"Z (MOhm)", "Z (Mohms)", "Z (M ohm)", "Z (megohms)", "Z (mega ohms)"})
    EXPECT_EQ(column_meaning(name)->scale, 1e6) << name;
}

TEST(ColumnNames, RefusesUnitsAndFunctionsItDoesNotKnow) {
  for (const char* name : {"Impedance (dBohm)",
                           "|Z| (dB\xce\xa9)",
                           "log|Z|",
                           "20 lg |Z|",
                           "log10(Z) (ohm)",
                           "Impedance (volt)",
                           "Uncertainty (%)",
                           "Z (1000 ohm)",
                           "Z/decade",
                           "1/Z",
                           "Z^2 (ohm)",
                           "|Z|\xc2\xb2",
                           "Phase (gon)",
                           "f/octaves",
                           "Z (cm)",
                           "log f",
                           "noise_volt_per_root_hz",
                           "Cs (F)",
                           "Ls (uH)",
                           "-Frequency (Hz)",
                           "-Z (ohm)",
                           "-Re(Z)"})
    EXPECT_FALSE(column_meaning(name)) << name;
}

TEST(ColumnNames, KeepsNamesWithARemarkBesideTheirUnit) {
  EXPECT_EQ(column_meaning("SPL (dB re 20 uPa)")->column, CurveColumn::level);
  EXPECT_EQ(column_meaning("20 lg |H| (dB)")->column, CurveColumn::level);
  EXPECT_EQ(column_meaning("Impedance (my pair) (ohm)")->unit, "ohm");
  EXPECT_EQ(column_meaning("Impedance (left)")->column, CurveColumn::magnitude);
  EXPECT_EQ(column_meaning("|Z(f)| (ohm)")->column, CurveColumn::magnitude);
  EXPECT_DOUBLE_EQ(column_meaning("Phase (mrad)")->scale, 0.18 / std::numbers::pi);
}

TEST(ColumnNames, NegatesAPhase) {
  EXPECT_EQ(column_meaning("-Phase(Z)/deg")->scale, -1);
  EXPECT_EQ(column_meaning("\xe2\x88\x92Phase (deg)")->scale, -1);
}

TEST(ReadCurve, TakesAResistanceBesideAReactanceAsTheRealPart) {
  for (const char* names : {"Resistance (ohm),Reactance (ohm)", "ESR (ohm),X (ohm)"}) {
    const auto curve = impedance("Frequency (Hz),"s + names + "\n100,3,-4\n200,3,4\n").read.value;
    EXPECT_DOUBLE_EQ(curve.magnitude_ohm()[0], 5) << names;
    EXPECT_DOUBLE_EQ(curve.phase_deg()[0], -53.13010235415598) << names;  // 3-4-5 triangle
  }
  EXPECT_EQ(impedance("Hz,Resistance\n20,16\n40,17\n").read.value.magnitude_ohm()[0], 16);
}

TEST(ReadCurveRefuses, AMagnitudeBesideOneOfTheParts) {
  EXPECT_THAT(refused("Hz,|Z| (ohm),X (ohm)\n20,5,3\n40,5,3\n"),
              HasSubstr("no column is the real part"));
  EXPECT_THAT(refused("Hz,Left (ohm),X (ohm)\n20,5,3\n40,5,3\n"),
              HasSubstr("or remove the other part from the file"));
  EXPECT_THAT(refused("Hz,|Z| (ohm),R (ohm)\n20,5,3\n40,5,3\n"),
              HasSubstr("no column is the imaginary part"));
  EXPECT_THAT(
      refused("Hz,Resistance (ohm),Phase (deg)\n20,5,3\n40,5,3\n"),
      HasSubstr("\"Resistance (ohm)\" beside a phase may be the real part or the magnitude; "
                "name it real_ohm"));
}

TEST(ReadCurve, PrefersItsOwnWordingOfTwoColumns) {
  for (const char* text : {"frequency_hz,magnitude_ohm,Z (ohm)\n20,16,1\n40,17,1\n",
                           "frequency_hz,Z (ohm),magnitude_ohm\n20,1,16\n40,1,17\n"}) {
    const auto read = impedance(text).read;
    EXPECT_EQ(read.value.magnitude_ohm()[0], 16);
    EXPECT_THAT(read.warnings.back(), HasSubstr("\"Z (ohm)\" reads as magnitude beside "
                                                "\"magnitude_ohm\" and is left out"));
  }
}

TEST(ReadCurve, WarnsOfANegativeResistance) {
  EXPECT_THAT(impedance("frequency_hz,magnitude_ohm,phase_deg\n20,16,95\n40,17,80\n60,17,90\n")
                  .read.warnings,
              ElementsAre("the resistance is negative (active) at 1 of 3 points, first at 20 Hz"));
  EXPECT_THAT(
      impedance("frequency_hz,real_ohm,imag_ohm\n20,16,95\n40,-17,80\n60,-17,90\n").read.warnings,
      ElementsAre("the resistance is negative (active) at 2 of 3 points, first at 40 Hz; "
                  "the leads of one channel may be swapped, or the phase is 180 degrees "
                  "off"));
}

TEST(ReadCurve, SaysWhatItInferred) {
  const auto file = impedance("Freq (kHz);Z\n0,02;16,5\n0,04;17\n");
  EXPECT_THAT(
      file.read.warnings,
      ElementsAre("the table is read as semicolon-separated, decimal comma, header on line 1",
                  "columns read as frequency in kHz (\"Freq (kHz)\") and magnitude in ohm "
                  "(assumed) (\"Z\")"));
  EXPECT_EQ(to_string(file.layout),
            "text table: semicolon-separated, decimal comma, header on line 1; frequency in kHz "
            "(\"Freq (kHz)\") and "
            "magnitude in ohm (assumed) (\"Z\")");
  EXPECT_TRUE(file.layout.columns[1].unit_assumed);
}

TEST(ReadCurve, TakesTwoOrThreeColumnsWithoutAHeaderAndSaysSo) {
  const auto two = impedance("20,16.5\n40,17\n");
  EXPECT_THAT(
      two.read.warnings,
      ElementsAre("no header names the columns: taken as frequency in Hz and magnitude in ohm"));
  const auto three = impedance("20 16.5 -3\n40 17 5\n");
  EXPECT_THAT(three.read.warnings.back(), HasSubstr("magnitude in ohm and phase in degrees"));
  EXPECT_THAT(list(three.read.value.phase_deg()), ElementsAre(-3, 5));
  const auto level = response("20 -3.5\n40 2\n");
  EXPECT_THAT(level.read.warnings.back(), HasSubstr("frequency in Hz and level in dB"));
}

TEST(ReadCurve, ReversesFallingOrder) {
  const auto file =
      impedance("frequency_hz,magnitude_ohm,phase_deg,uncertainty_ohm\n40,17,5,0.2\n20,16,3,0.1\n");
  EXPECT_THAT(list(file.read.value.frequency_hz()), ElementsAre(20, 40));
  EXPECT_THAT(list(file.read.value.magnitude_ohm()), ElementsAre(16, 17));
  EXPECT_THAT(list(file.read.value.phase_deg()), ElementsAre(3, 5));
  EXPECT_THAT(list(file.read.value.uncertainty_ohm()), ElementsAre(0.1, 0.2));
  EXPECT_THAT(file.read.warnings, ElementsAre("the frequencies fall; the rows were reversed"));
  EXPECT_THAT(list(response("frequency_hz,magnitude_db\n40,2\n20,1\n").read.value.level_db()),
              ElementsAre(1, 2));
}

TEST(ReadCurve, LeavesOutWhatItDoesNotUnderstandAndSaysSo) {
  EXPECT_THAT(impedance("Hz,ohm,colour\n20,16,1\n40,17,2\n").read.warnings.back(),
              HasSubstr("column 3 \"colour\" is not understood and left out"));
  EXPECT_THAT(impedance("Hz,ohm,Re,Im\n20,5,3,4\n40,5,3,4\n").read.warnings.back(),
              HasSubstr("left out"));
  EXPECT_THAT(response("Hz,SPL (dB),Phase (deg)\n20,1,3\n40,2,4\n").read.warnings.back(),
              HasSubstr("column of the phase is left out"));
}

TEST(ReadCurve, ReadsResponsesInCommonWordings) {
  for (const char* header :
       {"Freq(Hz),SPL(dB)", "frequency_hz,magnitude_db", "Hz,dB", "f,Level", "Frequency,Magnitude",
        "Frequency (Hz),Frequency response (dB)", "* Freq(Hz), SPL(dB)", "Freq,Gain [dB]"})
    EXPECT_THAT(list(response(std::string(header) + "\n20,-3\n40,2\n").read.value.level_db()),
                ElementsAre(-3, 2))
        << header;
}

TEST(ReadCurve, PassesOverATitleMadeOfColumnNames) {
  for (const char* title : {"# Impedance response", "* Impedance magnitude", "# Z phase"})
    EXPECT_EQ(impedance(title + "\n20 15.1\n40 16\n"s).read.value.magnitude_ohm()[0], 15.1)
        << title;
  EXPECT_THAT(refused("# Hz, Left (ohm), Right (ohm)\n20,16,16\n40,17,17\n"),
              HasSubstr("both read as magnitude"));
}

TEST(ReadCurve, LetsRemarksStandInColumnsThatItDoesNotUse) {
  const auto read = impedance("Freq (Hz);Z (ohm);Status\n20;16;OK\n40;17;\n").read;
  EXPECT_THAT(list(read.value.magnitude_ohm()), ElementsAre(16, 17));
  EXPECT_THAT(read.warnings.back(), HasSubstr("\"Status\" is not understood and left out"));
}

TEST(ReadCurve, LeavesOutAColumnInAnotherUnitWithAFrequencyInIt) {
  const auto read =
      impedance("frequency_hz,magnitude_ohm,noise_volt_per_root_hz\n20,16,1\n40,17,1\n").read;
  EXPECT_THAT(list(read.value.frequency_hz()), ElementsAre(20, 40));
  EXPECT_THAT(list(impedance("Freq,Z (ohm),Cs (F)\n20,16,1\n40,17,1\n").read.value.magnitude_ohm()),
              ElementsAre(16, 17));
}

// One test a fault: place, what was found, remedy.
TEST(ReadCurveRefuses, AnEmptyFile) {
  EXPECT_THAT(refused(""), HasSubstr("c.csv: the file is empty"));
}
TEST(ReadCurveRefuses, OnePoint) {
  EXPECT_THAT(
      refused("frequency_hz,magnitude_ohm\n20,16\n"),
      HasSubstr("c.csv:2: a curve of one point has no range; give at least two frequencies"));
}
TEST(ReadCurveRefuses, Text) {
  EXPECT_THAT(refused("frequency_hz,magnitude_ohm\n20,16\n40,high\n"),
              HasSubstr("c.csv:3:4: \"high\" stands where a number belongs; write"));
}
TEST(ReadCurveRefuses, NotANumber) {
  EXPECT_THAT(refused("frequency_hz,magnitude_ohm\n20,16\n40,nan\n"),
              HasSubstr("c.csv:3:4: magnitude \"nan\" is not a finite number; remove the row"));
  EXPECT_THAT(refused("frequency_hz,magnitude_ohm,phase_deg\n20,16,NaN\n40,17,1\n"),
              HasSubstr("c.csv:2:7: phase \"NaN\""));
}
TEST(ReadCurveRefuses, Infinity) {
  EXPECT_THAT(refused("frequency_hz,magnitude_ohm\n20,inf\n40,17\n"),
              HasSubstr("c.csv:2:4: magnitude \"inf\" is not a finite number"));
  EXPECT_THAT(refused("frequency_hz,magnitude_ohm\ninf,16\n40,17\n"),
              HasSubstr("c.csv:2:1: frequency \"inf\""));
  EXPECT_THAT(refused("f (kHz),Z (kohm)\n20,1e307\n40,17\n"),
              HasSubstr("c.csv:2:4: magnitude \"1e307\""));
}
TEST(ReadCurveRefuses, MagnitudesThatAreNotPositive) {
  EXPECT_THAT(refused("frequency_hz,magnitude_ohm\n20,16\n40,0\n"),
              HasSubstr("c.csv:3:4: magnitude must be positive (got 0); an impedance's"));
  EXPECT_THAT(refused("frequency_hz,magnitude_ohm\n20,-16\n40,17\n"),
              HasSubstr("c.csv:2:4: magnitude must be positive (got -16)"));
  EXPECT_THAT(refused("20 -16\n40 17\n"), HasSubstr("in dB, put a header on top"));
  EXPECT_THAT(refused("Hz,Re,Im\n20,0,0\n40,1,1\n"),
              HasSubstr("c.csv:2:4: the impedance has a magnitude of 0 ohm"));
}
TEST(ReadCurveRefuses, MagnitudesBeyondAnythingPhysical) {
  EXPECT_THAT(refused("frequency_hz,magnitude_ohm\n20,16\n40,1e300\n"),
              HasSubstr("c.csv:3:4: magnitude_ohm is 1e+300, beyond anything physical; check"));
  EXPECT_THAT(refused("Hz,Re,Im\n20,1e-30,0\n40,1,1\n"),
              HasSubstr("c.csv:2:4: magnitude_ohm is 1e-30"));
  EXPECT_THAT(test::message([] { parse_impedance("# Hz Z RI R 1\n20 1e20 0\n40 1 0\n", "z.s1p"); }),
              HasSubstr("beyond anything physical"));
}
TEST(ReadCurveRefuses, FrequenciesThatAreNotPositive) {
  EXPECT_THAT(refused("frequency_hz,magnitude_ohm\n0,16\n40,17\n"),
              HasSubstr("c.csv:2:1: frequency must be positive (got 0); remove the row"));
  EXPECT_THAT(refused("frequency_hz,magnitude_ohm\n-20,16\n40,17\n"), HasSubstr("(got -20)"));
}
TEST(ReadCurveRefuses, ADuplicateFrequency) {
  EXPECT_THAT(
      refused("frequency_hz,magnitude_ohm\n20,16\n40,17\n40,18\n"),
      HasSubstr("c.csv:4:1: frequency 40 Hz stands twice (line 3); keep one row a frequency"));
}
TEST(ReadCurveRefuses, UnsortedFrequencies) {
  EXPECT_THAT(refused("frequency_hz,magnitude_ohm\n20,16\n1000,17\n990,18\n2000,3\n"),
              HasSubstr("c.csv:4:1: frequency must rise or fall throughout (got 990 Hz after 1000 "
                        "Hz (line 3)); sort the rows"));
}
TEST(ReadCurveRefuses, AMissingColumn) {
  EXPECT_THAT(refused("Hz,colour\n20,1\n40,2\n"),
              HasSubstr("c.csv:1: no column is an impedance (found \"Hz\" and \"colour\"); name "
                        "one, such as magnitude_ohm"));
  EXPECT_THAT(refused("colour,ohm\n20,1\n40,2\n"), HasSubstr("no column is a frequency"));
  EXPECT_THAT(refused("Hz,Re\n20,1\n40,2\n"), HasSubstr("no column is the imaginary part"));
  EXPECT_THAT(refused("Hz,Im\n20,1\n40,2\n"), HasSubstr("no column is the real part"));
  EXPECT_THAT(refused("20\n40\n"),
              HasSubstr("c.csv:1: one column of numbers where at least 2 are needed"));
  EXPECT_THAT(refused_response("Hz,colour\n20,1\n40,2\n"), HasSubstr("no column is a level in dB"));
}
TEST(ReadCurveRefuses, MixedColumnCounts) {
  EXPECT_THAT(refused("frequency_hz,magnitude_ohm\n20,16\n40,17,3\n"),
              HasSubstr("c.csv:3: 3 columns here, but 2 on line 2; give every row"));
}
TEST(ReadCurveRefuses, FourColumnsWithoutAHeader) {
  EXPECT_THAT(refused("20 16 1 1\n40 17 1 1\n"),
              HasSubstr("c.csv:1: 4 columns and no header to name them; put a header on top"));
}
TEST(ReadCurveRefuses, TwoColumnsForOnePart) {
  EXPECT_THAT(
      refused("Hz,Left (ohm),Right (ohm)\n20,16,16\n40,17,17\n"),
      HasSubstr(
          "c.csv:1: columns \"Left (ohm)\" and \"Right (ohm)\" both read as magnitude; keep one"));
}
TEST(ReadCurveRefuses, WideAndBinaryFiles) {
  EXPECT_THAT(refused("\xff\xfe\0\0"
                      "2\0\0\0"s),
              HasSubstr("save it as UTF-8"));
  EXPECT_THAT(refused("\x7f"
                      "ELF\0\0\0\1\2\3\4\5"s),
              HasSubstr("binary file"));
}
TEST(ReadCurveRefuses, CommasThatCouldBeEither) {
  EXPECT_THAT(refused("20,5,16,2\n40,5,17,2\n"),
              AllOf(HasSubstr("c.csv:1:1:"), HasSubstr("20.5 and 16.2 (decimal commas)")));
}
TEST(ReadCurveRefuses, AResponseAsAnImpedanceAndTheReverse) {
  EXPECT_THAT(refused("Freq(Hz),SPL(dB)\n20,16\n40,17\n"),
              HasSubstr("c.csv:1: column \"SPL(dB)\" is in dB: this is a response, not an "
                        "impedance; give a file in ohm"));
  EXPECT_THAT(refused_response("Freq(Hz),Z(ohm)\n20,16\n40,17\n"),
              HasSubstr("r.csv:1: column \"Z(ohm)\" is in ohm: this is an impedance"));
  EXPECT_THAT(refused("# quantity: response\n20 16\n40 17\n"),
              HasSubstr("c.csv:1: the file says that its quantity is \"response\", not impedance; "
                        "give an impedance file"));
  EXPECT_THAT(refused_response("# quantity: impedance\n20 16\n40 17\n"),
              HasSubstr("give a response file"));
}
TEST(ReadCurveRefuses, ANegativeUncertainty) {
  EXPECT_THAT(refused("frequency_hz,magnitude_ohm,uncertainty_ohm\n20,16,0.1\n40,17,-0.1\n"),
              HasSubstr("c.csv:3:7: an uncertainty cannot be negative"));
}
TEST(ReadCurveRefuses, AFileOfTwoHundredMegabytesOfHoles) {
  const Scratch scratch;
  const auto file = scratch.write("holes.csv", own_text);
  std::filesystem::resize_file(file, std::uintmax_t{200} << 20);
  EXPECT_THAT(test::message([&] { read_impedance(file); }),
              HasSubstr("holes.csv: this is a binary file"));
}
TEST(ReadCurveRefuses, TwoHundredMegabytesOfShortRows) {
  std::string text;
  text.reserve(std::size_t{200} << 20);
  while (text.size() + 4 < text.capacity()) text += "1 2\n";
  EXPECT_THAT(test::message([&] { parse_impedance(std::move(text), "long.txt"); }),
              HasSubstr("long.txt:5000001: there are more than 5000000 rows; thin the table out"));
}

TEST(ReadCurve, ReadsAMillionRows) {
  std::string text = "frequency_hz,magnitude_ohm,phase_deg\n";
  for (int i = 1; i <= 1'000'000; ++i) text += std::to_string(i) + ".25,16.5,-3.125\n";
  const auto file = impedance(text);
  EXPECT_EQ(file.read.value.points(), 1'000'000);
  EXPECT_EQ(file.read.value.frequency_hz()[999'999], 1'000'000.25);
}

bool same_bits(const Array& a, const Array& b) {
  return a.size() == b.size() &&
         (a.size() == 0 || std::memcmp(a.data(), b.data(),
                                       sizeof(double) * static_cast<std::size_t>(a.size())) == 0);
}

/// Doubles of any size and any last bit.
class AnyDouble {
 public:
  explicit AnyDouble(unsigned seed) : generator_(seed) {}
  // As wide as FILES.md has it: every one of these is within the range of its unit.
  double hertz() { return std::ldexp(1 + unit(), static_cast<int>(generator_() % 58) - 19); }
  double positive() { return std::ldexp(1 + unit(), static_cast<int>(generator_() % 60) - 53); }
  double ohm() { return std::ldexp(1 + unit(), static_cast<int>(generator_() % 128) - 79); }
  double any() { return generator_() % 8 == 0 ? -0.0 : (generator_() % 2 ? 1 : -1) * positive(); }
  Array positives(Eigen::Index n) {
    return Array::NullaryExpr(n, [&] { return positive(); });
  }
  Array ohms(Eigen::Index n) {
    return Array::NullaryExpr(n, [&] { return ohm(); });
  }
  Array values(Eigen::Index n) {
    return Array::NullaryExpr(n, [&] { return any(); });
  }
  Array rising(Eigen::Index n) {
    Array hz = Array::NullaryExpr(n, [&] { return hertz(); });
    std::sort(hz.begin(), hz.end());
    return hz;
  }
  bool coin() { return generator_() % 2 == 0; }

 private:
  double unit() { return std::ldexp(static_cast<double>(generator_() >> 11), -53); }
  std::mt19937_64 generator_;
};

TEST(WriteCurve, ReadsBackBitForBit) {
  AnyDouble random(1);
  for (int round = 0; round < 300; ++round) {
    const Eigen::Index n = 2 + round % 40;
    const ImpedanceCurve curve({"t", "", "", ""}, random.rising(n), random.ohms(n),
                               random.coin() ? random.values(n) : Array(),
                               random.coin() ? random.positives(n) : Array());
    const auto back = impedance(curve_text(curve)).read;
    ASSERT_THAT(back.warnings, Each(HasSubstr("the resistance is negative")));
    ASSERT_TRUE(same_bits(back.value.frequency_hz(), curve.frequency_hz()));
    ASSERT_TRUE(same_bits(back.value.magnitude_ohm(), curve.magnitude_ohm()));
    ASSERT_TRUE(same_bits(back.value.phase_deg(), curve.phase_deg()));
    ASSERT_TRUE(same_bits(back.value.uncertainty_ohm(), curve.uncertainty_ohm()));
    const ResponseCurve level({"t", "", "", ""}, random.rising(n), random.values(n));
    const auto level_back = response(curve_text(level)).read;
    ASSERT_THAT(level_back.warnings, IsEmpty());
    ASSERT_TRUE(same_bits(level_back.value.level_db(), level.level_db()));
  }
}

TEST(WriteCurve, KeepsHostileNotesOnOneLine) {
  const Array two = Array::LinSpaced(2, 20, 40);
  const ImpedanceCurve curve({"a\nfrequency_hz,magnitude_ohm\r\n1,2\n# quantity: response",
                              "\x1b[0m'\"`@;", "  # x: y ", ""},
                             two, two);
  const auto notes = impedance(curve_text(curve)).read.value.notes();
  EXPECT_EQ(notes.title, "a\u21b5frequency_hz,magnitude_ohm\u21b51,2\u21b5# quantity: response");
  EXPECT_EQ(notes.condition, "\ufffd[0m'\"`@;");
  EXPECT_EQ(notes.origin, "# x: y");
}

TEST(WriteCurve, FollowsFormatsPage) {
  EXPECT_EQ(curve_text(impedance(own_text).read.value), own_text);
}

TEST(ColumnNames, ReadsDegreesOfOtherLanguages) {
  for (const char* name : {"Phase (degr\xc3\xa9s)", "Phase (degr\xe9s)", "Fase (grados)",
                           "Fase (gradi)", "Phase (Grad)", "Phase (\xc2\xb0)"}) {
    const auto curve = impedance("f (Hz);Z (ohm);"s + name + "\n20;16;30\n40;17;31\n").read.value;
    ASSERT_TRUE(curve.has_phase()) << name;
    EXPECT_EQ(curve.phase_deg()[0], 30) << name;
  }
}

TEST(ReadCurve, SuspectsKilohertzWithoutAUnit) {
  const std::string rows = "0.02,16\n1,17\n20,18\n";
  EXPECT_THAT(impedance(rows).read.warnings, testing::Contains(HasSubstr("look like kHz")));
  EXPECT_THAT(impedance("f,z\n" + rows).read.warnings,
              testing::Contains(HasSubstr("look like kHz")));
  EXPECT_THAT(impedance("frequency_hz,magnitude_ohm\n" + rows).read.warnings,
              Each(Not(HasSubstr("look like kHz"))));
  EXPECT_THAT(impedance("20,16\n1000,17\n20000,18\n").read.warnings,
              Each(Not(HasSubstr("look like kHz"))));
}

TEST(ReadCurve, KeepsTheUncertaintyOfTheScale) {
  const std::string text =
      "# title: c\n# quantity: impedance\n# scale_uncertainty_percent: 0.5\n"
      "frequency_hz,magnitude_ohm\n20,16\n40,17\n";
  const auto file = impedance(text);
  EXPECT_EQ(file.read.value.notes().scale_uncertainty_percent, 0.5);
  EXPECT_EQ(curve_text(file.read.value), text);
  EXPECT_THAT(refused("# scale_uncertainty_percent: -1\n20,16\n40,17\n"),
              HasSubstr("c.csv:1: scale_uncertainty_percent is \"-1\", not a percentage"));
}

}  // namespace
}  // namespace ohmtilt
