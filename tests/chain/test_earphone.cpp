// Earphone files: what they are made of, and what the ear gets.
#include <ohmtilt/chain/ear_level.h>
#include <ohmtilt/chain/earphone.h>
#include <ohmtilt/text/error.h>

#include "tests/chain/chains.h"

namespace ohmtilt {
namespace {

using namespace test;

std::filesystem::path demo_file(const std::string& name) {
  return source_dir() / "impedance-curves" / name;
}

/// A folder with a curve z.csv of 16 ohm, an odd response r.csv, and an isolation curve.
class Files {
 public:
  Files() {
    scratch_.write("z.csv",
                   "# title: sixteen\nfrequency_hz,magnitude_ohm,phase_deg\n20,16,0\n1000,16,0\n"
                   "20000,32,0\n");
    scratch_.write("r.csv", "frequency_hz,magnitude_db\n20,90\n500,93\n1000,94\n20000,80\n");
    scratch_.write("i.csv", "frequency_hz,magnitude_db\n100,10\n10000,30\n");
  }
  Earphone read(const std::string& keys) const {
    return read_earphone(scratch_.write("x.earphone.toml", "impedance = \"z.csv\"\n" + keys));
  }
  std::string refusal(const std::string& keys) const {
    try {
      read(keys);
    } catch (const InputError& error) {
      return error.what();
    }
    return "not refused";
  }
  const Scratch& scratch() const { return scratch_; }

 private:
  Scratch scratch_;
};

// L(dB/V) = L(dB/mW) + 10 lg(1000/R) (1 mW is sqrt(R/1000) V), computed with NumPy.
TEST(Sensitivity, IsConvertedAsTheTableSays) {
  int rows = 0;
  for (const auto& row : csv_rows(data("sensitivity_conversion.csv"))) {
    const double ohm = std::stod(row.at("R_ohm"));
    EXPECT_NEAR(db_per_volt_from_milliwatt(100, ohm),
                std::stod(row.at("dB_per_V_for_100_dB_per_mW")), 6e-5);
    ++rows;
  }
  EXPECT_EQ(rows, 12);
  EXPECT_THROW(db_per_volt_from_milliwatt(100, 0), InputError);
  EXPECT_THROW(db_per_volt_from_milliwatt(100, NAN), InputError);
}

TEST(Earphone, OfACurveIsAsBefore) {
  const Earphone earphone = read_earphone(demo_file("two-way-armature.csv"));
  EXPECT_EQ(earphone.phase, PhaseOrigin::measured);
  EXPECT_TRUE(earphone.curve);
  EXPECT_FALSE(earphone.circuit || earphone.response || earphone.sensitivity);
}

TEST(Earphone, OfACircuitIsItsCurve) {
  for (const char* name : {"two-way-armature", "five-armature", "single-dynamic",
                           "dynamic-armature-hybrid", "dynamic-piezo-hybrid", "planar"}) {
    const Earphone circuit = read_earphone(demo_file(std::string(name) + ".circuit.toml"));
    const Earphone curve = read_earphone(demo_file(std::string(name) + ".csv"));
    EXPECT_EQ(circuit.phase, PhaseOrigin::computed);
    EXPECT_EQ(circuit.title, curve.title);
    EXPECT_FALSE(circuit.curve);
    ASSERT_TRUE(circuit.circuit);
    const Array hz = curve.curve->frequency_hz();
    const ComplexArray got = circuit.impedance.at(hz);
    // The curves, made by an independent NumPy program, have 12 digits.
    EXPECT_LT(((got - curve.curve->impedance_ohm()).abs() / got.abs()).maxCoeff(), 1e-10) << name;
  }
}

TEST(Earphone, FileHasEverything) {
  const Earphone armature = read_earphone(demo_file("two-way-armature.earphone.toml"));
  EXPECT_EQ(armature.title, "Demo two-way pair");
  EXPECT_EQ(armature.kind, "balanced armature, two drivers");
  EXPECT_EQ(armature.response->source_ohm, 0.1);
  EXPECT_EQ(armature.sensitivity->db_per_volt, 122);
  EXPECT_EQ(armature.sensitivity->hz, 1000);
  EXPECT_EQ(armature.rated_ohm, 16);
  EXPECT_EQ(armature.max_watt, 0.02);
  EXPECT_EQ(std::get<double>(*armature.isolation), 24);
  EXPECT_TRUE(armature.warnings.empty());
  const Earphone piezo = read_earphone(demo_file("dynamic-piezo-hybrid.earphone.toml"));
  // 101 dB at 1 mW into 20 ohm: plus 10 lg 50.
  EXPECT_NEAR(piezo.sensitivity->db_per_volt, 101 + 10 * std::log10(50.0), 1e-12);
  EXPECT_EQ(piezo.sensitivity->hz, 500);
  EXPECT_EQ(read_earphone(demo_file("five-armature.earphone.toml")).phase, PhaseOrigin::computed);
}

TEST(Earphone, RefersAMilliwattToItsRatedImpedance) {
  const Files files;
  const Earphone earphone = files.read("rated_ohm = \"32R\"\nsensitivity_db_per_milliwatt = 100\n");
  EXPECT_NEAR(earphone.sensitivity->db_per_volt, 114.9485, 5e-5);  // 100 + 10 lg(1000/32)
}

TEST(EarLevel, HasTheMeasuringSourceTakenOut) {
  const Files files;
  const Earphone earphone = files.read("response = \"r.csv\"\nresponse_source_ohm = 8\n");
  Array hz(3);
  hz << 20, 1000, 20000;
  const Array ideal = ideal_response_db(earphone, hz);
  // By hand: 8 ohm before 16 ohm takes 20 lg(16/24), before 32 ohm 20 lg(32/40).
  EXPECT_NEAR(ideal[0], 90 - 20 * std::log10(16.0 / 24), 1e-12);
  EXPECT_NEAR(ideal[2], 80 - 20 * std::log10(32.0 / 40), 1e-12);
  EXPECT_THROW(ideal_response_db(files.read(""), hz), InputError);
}

TEST(EarLevel, ForOneVoltIsTheSensitivityAtItsFrequency) {
  const Files files;
  Array hz(2);
  hz << 500, 20000;
  const Earphone earphone = files.read(
      "response = \"r.csv\"\nresponse_source_ohm = 8\nsensitivity_db_per_volt = 120\n"
      "sensitivity_hz = 500\n");
  const Array level = level_db_per_volt(earphone, hz);
  EXPECT_NEAR(level[0], 120, 1e-12);
  const Array ideal = ideal_response_db(earphone, hz);
  EXPECT_NEAR(level[1], 120 + ideal[1] - ideal[0], 1e-12);
  const Earphone flat = files.read("sensitivity_db_per_volt = 110\n");
  EXPECT_EQ(level_db_per_volt(flat, hz)[1], 110);
  EXPECT_THROW(level_db_per_volt(files.read("rated_ohm = 16\n"), hz), InputError);
  const Earphone outside = files.read(
      "response = \"r.csv\"\nresponse_source_ohm = 0\nsensitivity_db_per_volt = 120\n"
      "sensitivity_hz = 10\n");
  EXPECT_THROW(level_db_per_volt(outside, hz), InputError);
}

TEST(EarLevel, LosesTheIsolation) {
  const Files files;
  Array hz(3);
  hz << 20, 1000, 20000;
  EXPECT_EQ(isolation_db(files.read(""), hz)[1], 0);
  EXPECT_EQ(isolation_db(files.read("isolation_db = 20\n"), hz)[2], 20);
  const Array curve = isolation_db(files.read("isolation = \"i.csv\"\n"), hz);
  EXPECT_EQ(curve[0], 10);
  EXPECT_NEAR(curve[1], 20, 1e-12);
  EXPECT_EQ(curve[2], 30);
}

TEST(Earphone, SaysWhatItInferred) {
  const Files files;
  const auto warnings = files.read("title = \"T\"\nresponse = \"r.csv\"\n").warnings;
  ASSERT_EQ(warnings.size(), 1u);
  EXPECT_NE(warnings[0].find("0 ohm"), std::string::npos);
}

TEST(Earphone, FromMemoryIsTheSame) {
  const Files files;
  const Earphone earphone = parse_earphone("impedance = \"z.csv\"\ntitle = \"T\"\n",
                                           "m.earphone.toml", files.scratch().folder());
  EXPECT_EQ(earphone.title, "T");
  const std::string circuit =
      "reference = \"s\"\n[ports]\nt = [\"a\", \"s\"]\n[[part]]\nname = \"R\"\n"
      "kind = \"resistor\"\nnodes = [\"a\", \"s\"]\nohm = 5\n";
  EXPECT_EQ(parse_earphone(circuit, "five.circuit.toml", ".").title, "five");
}

TEST(Earphone, LetsHostileTitlesThroughUnharmed) {
  const Files files;
  EXPECT_EQ(files.read("title = \"\\\"; set out '/x' <b> \\n\\u0007 %s\"\n").title,
            "\"; set out '/x' <b> \u21b5\ufffd %s");
}

TEST(Earphone, RefusesAChainByName) {
  try {
    read_earphone(demo_file("bare-output.chain.toml"));
    FAIL();
  } catch (const InputError& error) {
    EXPECT_NE(std::string(error.what()).find("this is a chain, not an earphone"),
              std::string::npos);
    EXPECT_NE(std::string(error.what()).find("give it as a source"), std::string::npos);
  }
  EXPECT_THROW(parse_earphone("title = \"x\"\n", "x.toml", "."), InputError);
}

struct EarphoneFault {
  std::string keys, line, part;
};

class EarphoneFaults : public testing::TestWithParam<EarphoneFault> {};

TEST_P(EarphoneFaults, AreRefusedWithPlaceAndRemedy) {
  const std::string text = Files().refusal(GetParam().keys);
  EXPECT_NE(text.find("x.earphone.toml:" + GetParam().line + ":"), std::string::npos) << text;
  EXPECT_NE(text.find(GetParam().part), std::string::npos) << text;
}

INSTANTIATE_TEST_SUITE_P(
    Keys, EarphoneFaults,
    testing::Values(
        EarphoneFault{"rated_ohms = 16\n", "2", "did you mean `rated_ohm`"},
        EarphoneFault{"circuit = \"z.csv\"\n", "2", "stands beside `impedance`"},
        EarphoneFault{"rated_ohm = 0\n", "2", "more than 0"},
        EarphoneFault{"rated_ohm = nan\n", "2", "finite"},
        EarphoneFault{"max_watt = -1\n", "2", "more than 0"},
        EarphoneFault{"response = \"none.csv\"\n", "2", "not a file here"},
        EarphoneFault{"response = 5\n", "2", "should be text"},
        EarphoneFault{"response_source_ohm = 1\n", "1", "`response` is missing"},
        EarphoneFault{"response = \"r.csv\"\nresponse_source_ohm = -1\n", "3", "0 or more"},
        EarphoneFault{"sensitivity_db_per_volt = 100\nsensitivity_db_per_milliwatt = 90\n", "3",
                      "stands beside"},
        EarphoneFault{"sensitivity_db_per_milliwatt = 90\n", "1", "`rated_ohm`"},
        EarphoneFault{"sensitivity_db_per_milliwatt = 90\nsensitivity_ohm = 0\n", "3",
                      "more than 0"},
        EarphoneFault{"sensitivity_ohm = 16\n", "1", "is missing"},
        EarphoneFault{"sensitivity_hz = 500\n", "1", "is missing"},
        EarphoneFault{"sensitivity_db_per_volt = 1000\n", "2", "beyond anything physical"},
        EarphoneFault{"sensitivity_db_per_volt = 100\nsensitivity_hz = 0\n", "3", "more than 0"},
        EarphoneFault{"isolation_db = 20\nisolation = \"i.csv\"\n", "3", "stands beside"},
        EarphoneFault{"isolation_db = -5\n", "2", "from 0 to 300"}));

TEST(Earphone, ChecksEachRowOfAnIsolation) {
  const Files files;
  for (const char* db : {"-20", "301"}) {
    files.scratch().write("bad.csv",
                          "frequency_hz,magnitude_db\n100,10\n200," + std::string(db) + "\n");
    const std::string text = files.refusal("isolation = \"bad.csv\"\n");
    EXPECT_TRUE(text.find("bad.csv: the isolation is " + std::string(db) + " dB at 200 Hz") !=
                    std::string::npos ||
                text.find("bad.csv:3:5: magnitude_db is " + std::string(db)) != std::string::npos)
        << text;
  }
}

TEST(Earphone, OfZeroOhmIsRefusedByName) {
  const Earphone earphone = parse_earphone(
      "title = \"short\"\nreference = \"0\"\n[ports]\nin = [\"in\", \"0\"]\n[[part]]\nname = "
      "\"R\"\n"
      "kind = \"resistor\"\nnodes = [\"in\", \"0\"]\nohm = 0\n",
      "zero.circuit.toml", ".");
  try {
    earphone.impedance.at(1000.0);
    ADD_FAILURE();
  } catch (const InputError& error) {
    EXPECT_NE(std::string(error.what()).find("the impedance of short is 0 ohm at 1000 Hz; give"),
              std::string::npos)
        << error.what();
  }
}

TEST(Earphone, RefusesFilesOfTheWrongKind) {
  const Files files;
  const auto refusal = [&](const std::string& toml) {
    try {
      parse_earphone(toml, "x.earphone.toml", files.scratch().folder());
    } catch (const InputError& error) {
      return std::string(error.what());
    }
    return std::string("not refused");
  };
  files.scratch().write("me.toml", "circuit = \"me.toml\"\n");
  EXPECT_NE(refusal("circuit = \"me.toml\"\n").find("names no circuit"), std::string::npos);
  EXPECT_NE(refusal("circuit = \"z.csv\"\n").find("names no circuit"), std::string::npos);
  EXPECT_NE(refusal("impedance = \"me.toml\"\n").find("names a TOML file"), std::string::npos);
  EXPECT_NE(refusal("impedance = \"/dev/zero\"\n").find("not a file here"), std::string::npos);
  EXPECT_NE(refusal("impedance = \"\"\n").find("not a file here"), std::string::npos);
  EXPECT_THROW(read_earphone(files.scratch() / "me.toml"), InputError);
}

}  // namespace
}  // namespace ohmtilt
