#include <gtest/gtest.h>

#include <ohmtilt/measure/findings.h>
#include <ohmtilt/measure/impedance.h>
#include <ohmtilt/text/error.h>
#include <cmath>
#include <numbers>

namespace ohmtilt {
namespace {

const double infinite = std::numeric_limits<double>::infinity();

/// A set-up with everything that calibrations take out.
struct Bench {
  double reference_ohm = 22;
  Wiring wiring = Wiring::load;
  Complex gain = 1;
  Complex lead_ohm = 0;
  double input_ohm = infinite;

  Complex ratio(Complex load_ohm) const {
    const Complex z = load_ohm + lead_ohm;
    const auto beside = [&](Complex ohm) {
      return std::isinf(input_ohm) ? ohm : ohm * input_ohm / (ohm + input_ohm);
    };
    if (wiring == Wiring::load) {
      const Complex loaded = beside(z);
      return gain * loaded / (loaded + reference_ohm);
    }
    const Complex loaded = beside(reference_ohm);
    return gain * loaded / (loaded + z);
  }
  Complex open_ratio() const { return ratio(1e15); }
};

Transfer transfer(Complex ratio, double uncertainty = 0) {
  Transfer t;
  t.frequency_hz = Array::LinSpaced(3, 100, 300);
  t.ratio = ComplexArray::Constant(3, ratio);
  t.uncertainty = Array::Constant(3, uncertainty);
  t.coherence = t.averages = Array::Ones(3);
  return t;
}

const Complex load_ohm(12, 7);

Complex measured(const Bench& bench, const Calibration& calibration, double input_ohm = infinite) {
  ImpedanceOptions options;
  options.reference_ohm = 22;
  options.wiring = bench.wiring;
  options.input_ohm = input_ohm;
  return impedance(transfer(bench.ratio(load_ohm)), calibration, options).impedance_ohm[1];
}

void expect_exact(const Bench& bench, const Calibration& calibration, double input_ohm = infinite) {
  EXPECT_LT(std::abs(measured(bench, calibration, input_ohm) - load_ohm),
            1e-9 * std::abs(load_ohm));
}

class Impedance : public testing::TestWithParam<Wiring> {};
INSTANTIATE_TEST_SUITE_P(BothWirings, Impedance, testing::Values(Wiring::load, Wiring::reference));

TEST_P(Impedance, OfAnIdealSetUp) {
  Bench bench;
  bench.wiring = GetParam();
  expect_exact(bench, {});
}

TEST_P(Impedance, SameSignalRemovesTheMismatch) {
  Bench bench;
  bench.wiring = GetParam();
  bench.gain = std::polar(1.03, 0.1);
  EXPECT_GT(std::abs(measured(bench, {}) - load_ohm), 0.5);
  Calibration calibration;
  calibration.same = transfer(bench.gain);
  expect_exact(bench, calibration);
}

TEST_P(Impedance, InputResistanceIsRemoved) {
  Bench bench;
  bench.wiring = GetParam();
  bench.input_ohm = 200;
  EXPECT_GT(std::abs(measured(bench, {}) - load_ohm), 0.5);
  expect_exact(bench, {}, 200);
}

TEST_P(Impedance, ThreeTermsRemoveEverythingAndNeedNoReference) {
  Bench bench;
  bench.wiring = GetParam();
  bench.gain = std::polar(0.97, -0.05);
  bench.lead_ohm = Complex(0.4, 0.1);
  bench.input_ohm = 1000;
  bench.reference_ohm = 25;  // believed to be 22
  Calibration calibration;
  calibration.open = transfer(bench.open_ratio());
  calibration.short_ = transfer(bench.ratio(0));
  calibration.known = transfer(bench.ratio(15));
  calibration.known_ohm = 15;
  expect_exact(bench, calibration);
}

TEST_P(Impedance, OpenAndShortRemoveMismatchAndLeads) {
  Bench bench;
  bench.wiring = GetParam();
  bench.gain = std::polar(0.97, -0.05);
  bench.lead_ohm = 0.3;
  Calibration calibration;
  calibration.open = transfer(bench.open_ratio());
  calibration.short_ = transfer(bench.ratio(0));
  // The scale stays the reference's, to which the leads add.
  EXPECT_LT(std::abs(measured(bench, calibration) - load_ohm), 0.02 * std::abs(load_ohm));
}

// At the earphone an open circuit reads gain times loading; the gain tells them apart.
TEST_P(Impedance, OpenAndSameRemoveMismatchAndLoading) {
  Bench bench;
  bench.wiring = GetParam();
  bench.gain = std::polar(1.02, 0.02);
  bench.input_ohm = 220;
  Calibration calibration;
  calibration.open = transfer(bench.open_ratio());
  calibration.same = transfer(bench.gain);
  if (bench.wiring == Wiring::load)
    expect_exact(bench, calibration);
  else
    expect_exact(bench, calibration, 220);
}

TEST_P(Impedance, AKnownResistorAloneRemovesTheMismatch) {
  Bench bench;
  bench.wiring = GetParam();
  bench.gain = std::polar(1.02, 0.03);
  Calibration calibration;
  calibration.known = transfer(bench.ratio(15));
  calibration.known_ohm = 15;
  expect_exact(bench, calibration);
}

TEST_P(Impedance, AKnownResistorAndTheGainReplaceTheReference) {
  Bench bench;
  bench.wiring = GetParam();
  bench.gain = std::polar(1.02, 0.03);
  bench.reference_ohm = 21;
  Calibration calibration;
  calibration.same = transfer(bench.gain);
  calibration.known = transfer(bench.ratio(15));
  calibration.known_ohm = 15;
  expect_exact(bench, calibration);
}

// dZ/Z = dH/(H (1 - H)), so the relative error of H grows by |1 + Z/R|.
TEST(ImpedanceUncertainty, GrowsByOnePlusZOverR) {
  const Bench bench;
  ImpedanceOptions options;
  options.reference_ohm = 22;
  options.mismatch_percent = 0;
  const Complex h = bench.ratio(load_ohm);
  const auto result = impedance(transfer(h, 1e-4 * std::abs(h)), {}, options);
  EXPECT_NEAR(result.uncertainty_ohm[0] / std::abs(load_ohm),
              1e-4 * std::abs(1.0 + load_ohm / 22.0), 1e-9);
}

// A resistor of 1 % (rectangular: 1/sqrt 3 % standard) is 1/sqrt 3 % of Z.
TEST(ImpedanceUncertainty, HoldsTheTolerance) {
  ImpedanceOptions options;
  options.reference_ohm = 22;
  options.reference_tolerance_percent = 1;
  options.mismatch_percent = 0;
  const auto result = impedance(transfer(Bench().ratio(load_ohm)), {}, options);
  EXPECT_NEAR(result.uncertainty_ohm[0], std::abs(load_ohm) * 0.01 / std::sqrt(3.0), 1e-6);
}

TEST(ImpedanceUncertainty, HoldsTheCalibrationsNoise) {
  ImpedanceOptions options;
  options.reference_ohm = 22;
  Calibration calibration;
  calibration.same = transfer(1, 1e-3);
  const Complex h = Bench().ratio(load_ohm);
  const auto result = impedance(transfer(h), calibration, options);
  EXPECT_NEAR(result.uncertainty_ohm[0] / std::abs(load_ohm),
              1e-3 * std::abs(1.0 + load_ohm / 22.0), 1e-7);
}

// Physics: of two inputs in a ratio of 1.01, Z = R H/(1 - H) makes 12.5 % too much of 51 ohm across
// 5 ohm: 1 % times 1 + 51/5, and a little of second order.
TEST(ImpedanceUncertainty, HoldsTheMismatchThatNothingCalibrates) {
  Bench bench;
  bench.reference_ohm = 5;
  bench.gain = 1.01;
  ImpedanceOptions options;
  options.reference_ohm = 5;
  const auto result = impedance(transfer(bench.ratio(51)), {}, options);
  const double error = std::abs(result.impedance_ohm[0] - 51.0);
  EXPECT_NEAR(error / 51, 0.1247, 1e-4);
  EXPECT_LT(error, 2 * result.uncertainty_ohm[0]);
  EXPECT_GT(error, result.uncertainty_ohm[0]);
  const auto exact = impedance(transfer(bench.ratio(51) / 1.01), {}, options);
  EXPECT_NEAR(exact.uncertainty_ohm[0] / 51, 0.01 / std::sqrt(3.0) * (1 + 51 / 5.0), 5e-4);
  const auto found = impedance_findings(result);
  ASSERT_EQ(found.size(), 1u);
  EXPECT_EQ(found[0].kind, "uncalibrated");
  EXPECT_FALSE(found[0].refuses);
  // A recording of the gain settles it, and so does a known resistor.
  Calibration same, known;
  same.same = transfer(1.01);
  known.known = transfer(bench.ratio(50));
  known.known_ohm = 50;
  for (const Calibration& calibration : {same, known}) {
    const auto settled = impedance(transfer(bench.ratio(51)), calibration, options);
    EXPECT_LT(std::abs(settled.impedance_ohm[0] - 51.0), 1e-9);
    EXPECT_LT(settled.uncertainty_ohm[0], 1e-9);
    EXPECT_TRUE(impedance_findings(settled).empty());
  }
}

// 1 kohm, an input of 10 kohm: alone, an open circuit leaves the scale 10 % too large.
TEST(ImpedanceUncertainty, HoldsTheLoadingThatAnOpenCircuitLeaves) {
  Bench bench;
  bench.reference_ohm = 1000;
  bench.input_ohm = 10000;
  ImpedanceOptions options;
  options.reference_ohm = 1000;
  Calibration open;
  open.open = transfer(bench.open_ratio());
  const auto result = impedance(transfer(bench.ratio(300)), open, options);
  EXPECT_NEAR(result.impedance_ohm[0].real(), 330, 1e-6);
  EXPECT_LT(30, 2 * result.uncertainty_ohm[0]);
  EXPECT_NE(result.removed.at(0).find("what the input takes of the scale stays"),
            std::string::npos);
  options.input_ohm = 10000;
  const auto told = impedance(transfer(bench.ratio(300)), open, options);
  EXPECT_NEAR(told.impedance_ohm[0].real(), 300, 1e-6);
  EXPECT_LT(told.uncertainty_ohm[0], 1e-6);
}

TEST(ImpedanceErrors, AreRefused) {
  ImpedanceOptions options;
  EXPECT_THROW(impedance(transfer(0.5), {}, options), InputError);  // no reference
  options.reference_ohm = 22;
  options.reference_tolerance_percent = -1;
  EXPECT_THROW(impedance(transfer(0.5), {}, options), InputError);
  options.reference_tolerance_percent = 0;
  options.input_ohm = 0;
  EXPECT_THROW(impedance(transfer(0.5), {}, options), InputError);
  options.input_ohm = infinite;
  Calibration calibration;
  calibration.same = transfer(1);
  calibration.same->frequency_hz[2] = 301;
  EXPECT_THROW(impedance(transfer(0.5), calibration, options), InputError);
}

std::string kind_of(Complex ratio) {
  ImpedanceOptions options;
  options.reference_ohm = 22;
  const auto found = impedance_findings(impedance(transfer(ratio), {}, options));
  return found.empty() ? "" : found[0].kind;
}

TEST(ImpedanceFindings, TellTheWiring) {
  EXPECT_EQ(kind_of(0.4), "");
  EXPECT_EQ(kind_of(1 / 0.4), "swapped");
  EXPECT_EQ(kind_of(0.995), "reference-small");
  EXPECT_EQ(kind_of(0.005), "reference-large");
  EXPECT_EQ(transfer_findings(transfer(1), false).at(0).kind, "same-channels");
  EXPECT_TRUE(transfer_findings(transfer(1), true).empty());
}

}  // namespace
}  // namespace ohmtilt
