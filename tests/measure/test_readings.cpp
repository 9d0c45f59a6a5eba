#include <gmock/gmock.h>
#include <ohmtilt/base/frequency_grid.h>
#include <ohmtilt/measure/read_meter.h>
#include <ohmtilt/measure/readings.h>
#include <ohmtilt/text/error.h>
#include <tests/support.h>

#include <cmath>
#include <numbers>

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

// |Z/(Z + R)| alone: taken for |Z| directly it is off by far; its minimum phase makes it right.
TEST(Readings, TheRatioNeedsItsMinimumPhase) {
  for (const bool at_load : {true, false}) {
    MeterReadings r = readings(22);
    r.ampere = Array();
    (at_load ? r.volt_reference : r.volt_load) = Array();
    const auto read = impedance_of_readings(r, 22);
    EXPECT_EQ(read.method,
              at_load ? ReadingMethod::ratio_of_load : ReadingMethod::ratio_of_reference);
    const ComplexArray z = load(r.frequency_hz);
    const Array error = (read.curve.impedance_ohm() - z).abs() / z.abs();
    EXPECT_LT(error.maxCoeff(), 0.02);
    EXPECT_THAT(read.warnings, testing::Contains(testing::HasSubstr("minimum phase")));
    // Taken for magnitudes that add up, the same readings are off by far.
    const Array share =
        (at_load ? r.volt_load : Array(r.volt_both - r.volt_reference)) / r.volt_both;
    const Array naive = (22 * share / (1 - share) / z.abs() - 1).abs();
    EXPECT_GT(naive.maxCoeff(), 0.1);
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
