#include <gmock/gmock.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/frequency_grid.h>
#include <ohmtilt/measure/meter_columns.h>
#include <ohmtilt/measure/read_meter.h>
#include <ohmtilt/measure/readings.h>
#include <ohmtilt/text/error.h>
#include <tests/support.h>

#include <cmath>
#include <numbers>
#include <random>

#include "tests/measure/random_earphone.h"

namespace ohmtilt {
namespace {

/// 8 ohm in series with a resonance of 30 ohm at 900 Hz, Q 2: closed form.
ComplexArray load(const Array& hz) {
  ComplexArray z(hz.size());
  for (Eigen::Index i = 0; i < hz.size(); ++i)
    z[i] = 8.0 + 30.0 / Complex(1, 2 * (hz[i] / 900 - 900 / hz[i]));
  return z;
}

MeterReadings readings(double reference_ohm) {
  MeterReadings r;
  r.frequency_hz = log_grid({20, 20000}, 121);
  const ComplexArray z = load(r.frequency_hz);
  r.ampere = 0.5 / (z + reference_ohm).abs();
  r.volt_both = Array::Constant(121, 0.5);
  r.volt_load = r.ampere * z.abs();
  r.volt_reference = r.ampere * reference_ohm;
  return r;
}

TEST(Readings, CurrentGivesTheModulusDirectly) {
  MeterReadings r = readings(22);
  r.volt_both = r.volt_reference = Array();
  const auto read = impedance_of_readings(r, 0);
  EXPECT_EQ(read.method, ReadingMethod::current);
  EXPECT_FALSE(read.curve.has_phase());
  EXPECT_LT((read.curve.magnitude_ohm() - load(r.frequency_hz).abs()).abs().maxCoeff(), 1e-12);
}

TEST(Readings, TheReferenceVoltageDoesToo) {
  MeterReadings r = readings(22);
  r.ampere = Array();
  ReadingAccuracy accuracy;
  accuracy.meter_percent = 1;
  accuracy.reference_tolerance_percent = 1;
  const auto read = impedance_of_readings(r, 22, accuracy);
  EXPECT_EQ(read.method, ReadingMethod::reference_volt);
  const Array ohm = load(r.frequency_hz).abs();
  EXPECT_LT((read.curve.magnitude_ohm() - ohm).abs().maxCoeff(), 1e-12);
  // Three limits of 1 %, each 1/sqrt 3 % standard: 1 % together.
  EXPECT_LT((read.curve.uncertainty_ohm() / ohm - 0.01).abs().maxCoeff(), 1e-12);
  accuracy.correlated = true;  // the meter's own error cancels
  EXPECT_NEAR(impedance_of_readings(r, 22, accuracy).curve.uncertainty_ohm()[0] / ohm[0],
              0.01 / std::sqrt(3.0), 1e-12);
}

// |Z/(Z + R)| alone: taken for |Z| directly it is off by far; its computed phase makes it right.
TEST(Readings, TheRatioNeedsItsPhase) {
  for (const bool at_load : {true, false}) {
    MeterReadings r = readings(22);
    r.ampere = Array();
    (at_load ? r.volt_reference : r.volt_load) = Array();
    const auto read = impedance_of_readings(r, 22);
    EXPECT_EQ(read.method,
              at_load ? ReadingMethod::ratio_of_load : ReadingMethod::ratio_of_reference);
    const ComplexArray z = load(r.frequency_hz);
    const Array error = (read.curve.magnitude_ohm() - z.abs()).abs() / z.abs();
    EXPECT_LT(error.maxCoeff(), 0.02);
    EXPECT_LT((read.phase_deg - z.arg() / degree).abs().maxCoeff(), 2);
    // Taken for magnitudes that add up, the same readings are off by far.
    const Array share =
        (at_load ? r.volt_load : Array(r.volt_both - r.volt_reference)) / r.volt_both;
    const Array naive = (22 * share / (1 - share) / z.abs() - 1).abs();
    EXPECT_GT(naive.maxCoeff(), 0.1);
  }
}

TEST(Readings, AComputedPhaseIsNotWrittenAsAMeasuredOne) {
  MeterReadings r = readings(22);
  r.ampere = Array();
  EXPECT_FALSE(impedance_of_readings(r, 22).curve.has_phase());
  EXPECT_EQ(impedance_of_readings(r, 22).phase_source, PhaseSource::triangle);
  r.volt_reference = Array();
  const auto read = impedance_of_readings(r, 22);
  EXPECT_EQ(read.phase_source, PhaseSource::computed);
  EXPECT_FALSE(read.curve.has_phase());
  EXPECT_THAT(read.warnings, testing::Contains(testing::HasSubstr("its phase was computed")));
  r = readings(22);
  r.volt_both = Array();
  EXPECT_EQ(impedance_of_readings(r, 22).phase_source, PhaseSource::none);
}

/// Readings of an invented earphone by a meter whose error is even within +-percent.
MeterReadings taken(const ComplexArray& z, const Array& hz, double reference_ohm, double percent,
                    unsigned seed) {
  std::mt19937_64 generator(seed);
  std::uniform_real_distribution<double> even(-percent / 100, percent / 100);
  const auto read = [&](const Array& volt) {
    Array result = volt;
    for (double& v : result) v *= 1 + even(generator);
    return result;
  };
  MeterReadings r;
  r.frequency_hz = hz;
  const Array ampere = 0.5 / (z + reference_ohm).abs();
  r.volt_both = read(Array::Constant(hz.size(), 0.5));
  r.volt_load = read(ampere * z.abs());
  r.volt_reference = read(ampere * reference_ohm);
  return r;
}

struct Coverage {
  double magnitude = 0, phase = 0, points = 0, largest = 0;

  void add(const ReadImpedance& read, const ComplexArray& z) {
    const Array error = (read.curve.magnitude_ohm() / z.abs() - 1).abs();
    const Array turned = (read.phase_deg - z.arg() / degree).abs();
    magnitude += (error <= 2 * read.curve.uncertainty_ohm() / z.abs()).cast<double>().sum();
    phase += (turned <= 2 * read.phase_uncertainty_deg).cast<double>().sum();
    points += static_cast<double>(error.size());
    largest += error.maxCoeff();
  }
};

// Truth: the closed forms of RandomEarphone in a divider (Ohm's law). With the ratio's own minimum
// phase, continued whatever way it goes, the largest errors were 3.9 % (load) and 5.4 % (reference)
// on average here, and 60 % of the points lay within what was stated.
TEST(Readings, TwoVoltagesAreWorthWhatTheyState) {
  const Array hz = log_grid({20, 20000}, 61);
  for (const bool at_load : {true, false}) {
    Coverage coverage;
    for (unsigned seed = 0; seed < 100; ++seed) {
      const ComplexArray z = test::RandomEarphone(seed).impedance(hz);
      const double reference_ohm = seed % 2 == 0 ? 10 : 47;
      ReadingAccuracy accuracy;
      accuracy.meter_percent = seed % 4 < 2 ? 0.02 : 0.3;
      MeterReadings r = taken(z, hz, reference_ohm, accuracy.meter_percent, seed);
      (at_load ? r.volt_reference : r.volt_load) = Array();
      coverage.add(impedance_of_readings(r, reference_ohm, accuracy), z);
    }
    EXPECT_GE(coverage.magnitude / coverage.points, 0.93);
    EXPECT_GE(coverage.phase / coverage.points, 0.93);
    EXPECT_LT(coverage.largest / 100, at_load ? 0.02 : 0.035);
  }
}

// The third voltage gives |Z| directly and the phase's size.
TEST(Readings, ATriangleIsWorthWhatItStates) {
  for (const Eigen::Index points : {121, 25}) {
    const Array hz = log_grid({20, 20000}, points);
    Coverage coverage;
    double squares = 0;
    for (unsigned seed = 0; seed < 100; ++seed) {
      const ComplexArray z = test::RandomEarphone(seed).impedance(hz);
      ReadingAccuracy accuracy;
      accuracy.meter_percent = 0.3;
      const auto read = impedance_of_readings(taken(z, hz, 22, 0.3, seed), 22, accuracy);
      coverage.add(read, z);
      squares += (read.phase_deg - z.arg() / degree).square().mean();
    }
    EXPECT_GE(coverage.magnitude / coverage.points, 0.95);
    EXPECT_GE(coverage.phase / coverage.points, 0.93);
    EXPECT_LT(std::sqrt(squares / 100), 2.5);
  }
}

// Physics: a voltage of the whole above the parts' sum, or below that at a right angle, is not that
// of a passive load across a resistor.
TEST(Readings, RefusesThreeVoltagesThatFormNoTriangle) {
  for (const double factor : {1.2, 0.6}) {
    MeterReadings r = readings(22);
    for (int i = 0; i < 121; ++i) r.places.push_back({"r.csv", i + 2, 0});
    r.volt_both[40] *= factor;
    try {
      impedance_of_readings(r, 22);
      ADD_FAILURE() << factor;
    } catch (const InputError& error) {
      EXPECT_THAT(error.what(), testing::HasSubstr("r.csv:42:"));
      EXPECT_THAT(error.what(), testing::HasSubstr("no passive impedance"));
    }
  }
}

TEST(ReadMeter, KeepsTheLinesOfRows) {
  const test::Scratch scratch;
  std::vector<std::string> warnings;
  const auto table = scratch.write("t.csv",
                                   "frequency_hz,volt_both,volt_reference,volt_load\n"
                                   "1250,0.968,0.347,6.250\n1000,0.963,0.363,0.603\n"
                                   "1600,0.966,0.339,0.640\n");
  const MeterReadings r = read_meter_readings(table, warnings);
  ASSERT_EQ(r.places.size(), 3u);
  EXPECT_EQ(r.places[1].line, 2);
  try {
    impedance_of_readings(r, 22);
    ADD_FAILURE();
  } catch (const InputError& error) {
    EXPECT_THAT(error.what(), testing::HasSubstr("t.csv:2: at 1250 Hz"));
  }
}

TEST(Readings, RefusesTheImpossible) {
  MeterReadings r = readings(22);
  r.ampere = r.volt_reference = Array();
  std::swap(r.volt_both, r.volt_load);
  EXPECT_THROW(impedance_of_readings(r, 22), InputError);
}

TEST(Readings, RefusesMissingOrBadNumbers) {
  MeterReadings r = readings(22);
  r.ampere = r.volt_reference = r.volt_both = Array();
  EXPECT_THROW(impedance_of_readings(r, 22), InputError);
  r = readings(22);
  r.volt_load[3] = 0;
  EXPECT_THROW(impedance_of_readings(r, 22), InputError);
  r = readings(22);
  r.ampere = Array();
  EXPECT_THROW(impedance_of_readings(r, 0), InputError);
}

TEST(ReadMeter, TablesWithAndWithoutNames) {
  const test::Scratch scratch;
  std::vector<std::string> warnings;
  const auto named = read_meter_readings(
      scratch.write("a.csv", "frequency_hz,ampere,volt_load\n1000,0.01,0.2\n100,0.02,0.3\n"),
      warnings);
  EXPECT_EQ(named.frequency_hz[0], 100);
  EXPECT_EQ(named.volt_load[0], 0.3);
  EXPECT_EQ(named.ampere[1], 0.01);
  EXPECT_EQ(named.volt_both.size(), 0);
  const auto bare =
      read_meter_readings(scratch.write("b.csv", "100;1,0;0,5\n1000;1,0;0,4\n"), warnings);
  EXPECT_EQ(bare.volt_load[1], 0.4);
  const auto source =
      read_source_readings(scratch.write("c.csv", "load_ohm,volt\ninf,1\n32,0.9\n"), warnings);
  ASSERT_EQ(source.size(), 1u);
  EXPECT_TRUE(std::isinf(source[0].readings[0].load_ohm));
  const auto swept = read_source_readings(
      scratch.write("d.csv",
                    "frequency_hz,load_ohm,volt\n1000,inf,1\n100,inf,1\n1000,32,0.9\n100,32,0.8\n"),
      warnings);
  ASSERT_EQ(swept.size(), 2u);
  EXPECT_EQ(swept[0].frequency_hz, 100);
  EXPECT_EQ(swept[0].readings[1].volt, 0.8);
}

TEST(ReadMeter, ReadsMillivoltsAndOwnWords) {
  const std::vector<std::string> known{"frequency_hz", "volt_both", "volt_load", "volt_reference",
                                       "ampere"};
  struct Words {
    const char* name;
    const char* own;
    double factor;
  };
  for (const Words& words :
       {Words{"f (kHz)", "frequency_hz", 1e3}, Words{"U load (mV)", "volt_load", 1e-3},
        Words{"V_ref [V]", "volt_reference", 1}, Words{"millivolt_both", "volt_both", 1e-3},
        Words{"V earphone / mV", "volt_load", 1e-3}, Words{"I (mA)", "ampere", 1e-3},
        Words{"current_ma", "ampere", 1e-3}, Words{"Voltage total", "volt_both", 1},
        Words{"Volt_Load", "volt_load", 1}}) {
    const auto column = meter_column(words.name, known);
    ASSERT_TRUE(column) << words.name;
    EXPECT_EQ(column->name, words.own) << words.name;
    EXPECT_EQ(column->factor, words.factor) << words.name;
  }
  // Not told across what, contradictory, or of another kind.
  for (const char* name :
       {"mV", "load", "U load ref", "load (ohm)", "mV load (mA)", "phase_deg", "note"})
    EXPECT_FALSE(meter_column(name, known)) << name;

  const test::Scratch scratch;
  std::vector<std::string> warnings;
  const MeterReadings read = read_meter_readings(
      scratch.write("a.csv", "f (kHz),U load (mV),I (mA)\n0.1,200,10\n1,300,12\n"), warnings);
  EXPECT_DOUBLE_EQ(read.frequency_hz[0], 100);
  EXPECT_DOUBLE_EQ(read.volt_load[1], 0.3);
  EXPECT_DOUBLE_EQ(read.ampere[0], 0.01);
  EXPECT_THAT(warnings,
              testing::Contains(testing::HasSubstr("\"U load (mV)\" as volt_load times 0.001")));
  const auto loads = read_source_readings(
      scratch.write("b.csv", "R load (\xce\xa9),U out (mV)\nopen,1000\n32,900\n"), warnings);
  EXPECT_DOUBLE_EQ(loads[0].readings[1].volt, 0.9);
  EXPECT_EQ(loads[0].readings[1].load_ohm, 32);
}

TEST(ReadMeter, NamesThePlaceOfWhatIsWrong) {
  const test::Scratch scratch;
  std::vector<std::string> warnings;
  const auto message = [&](const std::string& text) {
    try {
      read_source_readings(scratch.write("x.csv", text), warnings);
    } catch (const InputError& error) {
      return std::string(error.what());
    }
    return std::string("nothing");
  };
  EXPECT_THAT(message("load_ohm,volt\ninf,1\n-3,0.9\n"), testing::HasSubstr("x.csv:3:1"));
  EXPECT_THAT(message("load_ohm,volt\ninf,1\n32,inf\n"), testing::HasSubstr("x.csv:3:4"));
  EXPECT_THAT(message("load_ohm,amps\ninf,1\n32,0.9\n"), testing::HasSubstr("amps"));
  EXPECT_THAT(message("load_ohm,volt,volt\n1,1,1\n"), testing::HasSubstr("twice"));
  EXPECT_THAT(message(""), testing::HasSubstr("x.csv"));
  EXPECT_THROW(
      read_meter_readings(scratch.write("y.csv", "volt_both,volt_load\n1,0.5\n"), warnings),
      InputError);
}

}  // namespace
}  // namespace ohmtilt
