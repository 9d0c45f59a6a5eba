#include <gtest/gtest.h>

#include <ohmtilt/measure/findings.h>
#include <ohmtilt/measure/impedance.h>
#include <ohmtilt/text/error.h>
#include <cmath>
#include <numbers>
#include <random>

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

  Complex crosstalk = 0;

  Complex ratio(Complex load_ohm) const { return crosstalk + gain * divided(load_ohm + lead_ohm); }
  Complex same_ratio() const { return crosstalk + gain; }
  Complex open_ratio() const { return ratio(1e15); }

 private:
  Complex divided(Complex z) const {
    const auto beside = [&](Complex ohm) {
      return std::isinf(input_ohm) ? ohm : ohm * input_ohm / (ohm + input_ohm);
    };
    if (wiring == Wiring::load) {
      const Complex loaded = beside(z);
      return loaded / (loaded + reference_ohm);
    }
    const Complex loaded = beside(reference_ohm);
    return loaded / (loaded + z);
  }
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

/// With a reference of 22 ohm; leads and inputs are taken as none where nothing tells them.
ImpedanceOptions plain_options(double reference_ohm = 22) {
  ImpedanceOptions options;
  options.reference_ohm = reference_ohm;
  options.lead_limit_ohm = 0;
  options.least_input_ohm = infinite;
  return options;
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
  // At the reference a short alone does not tell the gain from the leads.
  if (bench.wiring == Wiring::reference) calibration.same = transfer(bench.gain);
  expect_exact(bench, calibration);
}

// Leads of 0.5 ohm in series with 10 ohm across 10 ohm: the scale R alone would take 4.8 % off.
TEST_P(Impedance, AShortTellsTheLeadsThatStandInTheScaleToo) {
  Bench bench;
  bench.wiring = GetParam();
  bench.reference_ohm = 22;
  bench.lead_ohm = 1.1;
  Calibration calibration;
  calibration.short_ = transfer(bench.ratio(0));
  expect_exact(bench, calibration);
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
  ImpedanceOptions options = plain_options();
  options.mismatch_percent = 0;
  const Complex h = bench.ratio(load_ohm);
  const auto result = impedance(transfer(h, 1e-4 * std::abs(h)), {}, options);
  EXPECT_NEAR(result.uncertainty_ohm[0] / std::abs(load_ohm),
              1e-4 * std::abs(1.0 + load_ohm / 22.0), 1e-9);
}

// A resistor of 1 % (rectangular: 1/sqrt 3 % standard) is 1/sqrt 3 % of Z.
TEST(ImpedanceUncertainty, HoldsTheTolerance) {
  ImpedanceOptions options = plain_options();
  options.reference_tolerance_percent = 1;
  options.mismatch_percent = 0;
  const auto result = impedance(transfer(Bench().ratio(load_ohm)), {}, options);
  EXPECT_NEAR(result.uncertainty_ohm[0], std::abs(load_ohm) * 0.01 / std::sqrt(3.0), 1e-6);
}

TEST(ImpedanceUncertainty, HoldsTheCalibrationsNoise) {
  ImpedanceOptions options = plain_options();
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
  ImpedanceOptions options = plain_options(5);
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
  ImpedanceOptions options = plain_options(1000);
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

// What nothing tells of leads and input counts: 0.2 ohm in 14, and 22 of 10 kohm.
TEST(ImpedanceUncertainty, HoldsLeadsAndLoadingThatNothingTells) {
  ImpedanceOptions options;
  options.reference_ohm = 22;
  options.mismatch_percent = 0;
  const Transfer m = transfer(Bench().ratio(load_ohm));
  const double lead = 0.2 / std::sqrt(3.0);
  const double loading = 22 / 10022.0 / std::sqrt(3.0);
  // Z = R L m/(L - m) - l, so dZ/dL is R m (-m)/(1 - m)^2 = -Z^2/R at L = 1.
  const double expected = std::hypot(lead, loading * std::norm(load_ohm) / 22);
  EXPECT_NEAR(impedance(m, {}, options).uncertainty_ohm[0], expected, 1e-5);
  Calibration short_alone;
  short_alone.short_ = transfer(0);
  EXPECT_LT(impedance(m, short_alone, options).uncertainty_ohm[0], expected / 4);
}

// Every subset of the calibrations, on random set-ups: what a subset tells is taken out to
// rounding, and what it does not tell is covered. The truth is the voltage divider of Bench (Ohm's
// law).
struct Subset {
  bool same, open, short_, known, input;
  Wiring wiring;

  bool at_load() const { return wiring == Wiring::load; }
  bool tells_gain() const { return same || known || (at_load() && open); }
  bool tells_leads() const { return short_; }
  bool tells_reference() const { return known && (same || (at_load() ? open : short_)); }
  bool tells_loading() const {
    return input || (at_load() ? open && (same || known) : tells_reference());
  }
};

std::vector<Subset> all_subsets() {
  std::vector<Subset> all;
  for (int bits = 0; bits < 64; ++bits)
    all.push_back({(bits & 1) > 0, (bits & 2) > 0, (bits & 4) > 0, (bits & 8) > 0, (bits & 16) > 0,
                   (bits & 32) > 0 ? Wiring::reference : Wiring::load});
  return all;
}

std::string name_of(const Subset& s) {
  return std::string(s.at_load() ? "load:" : "reference:") + (s.same ? " same" : "") +
         (s.open ? " open" : "") + (s.short_ ? " short" : "") + (s.known ? " known" : "") +
         (s.input ? " input" : "");
}

/// A set-up with everything amiss within the limits that ImpedanceOptions assumes, and the load.
class RandomBench {
 public:
  explicit RandomBench(unsigned seed) : generator_(seed) {
    reference_ohm = std::exp(uniform(std::log(3), std::log(100)));
    load_ohm = std::polar(reference_ohm * std::exp(uniform(-1.5, 1.5)), uniform(-1.2, 1.2));
    known_ohm = reference_ohm * std::exp(uniform(-1, 1));
  }
  double uniform(double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(generator_);
  }
  Complex noise(double rms) {
    std::normal_distribution<double> normal(0, rms);
    const double real = normal(generator_);
    return {real, normal(generator_)};
  }
  double reference_ohm, known_ohm;
  Complex load_ohm;

 private:
  std::mt19937_64 generator_;
};

Calibration recorded(const Subset& subset, const Bench& bench, double known_ohm, double rms,
                     RandomBench& chance) {
  const auto take = [&](Complex ratio) { return transfer(ratio + chance.noise(rms), rms); };
  Calibration c;
  if (subset.same) c.same = take(bench.same_ratio());
  if (subset.open) c.open = take(bench.open_ratio());
  if (subset.short_) c.short_ = take(bench.ratio(0));
  if (subset.known) c.known = take(bench.ratio(known_ohm));
  return c;
}

TEST(ImpedanceSubsets, TakeOutWhatTheyTell) {
  for (const Subset& subset : all_subsets()) {
    double worst = 0;
    for (unsigned seed = 0; seed < 200; ++seed) {
      RandomBench chance(seed);
      Bench bench;
      bench.wiring = subset.wiring;
      bench.reference_ohm = chance.reference_ohm;
      ImpedanceOptions options = plain_options(chance.reference_ohm);
      options.wiring = subset.wiring;
      if (subset.tells_gain())
        bench.gain = std::polar(chance.uniform(0.5, 2), chance.uniform(-1, 1));
      if (subset.tells_leads())
        bench.lead_ohm = Complex(chance.uniform(0, 3), chance.uniform(0, 1));
      if (subset.tells_reference()) bench.reference_ohm *= chance.uniform(0.7, 1.4);
      if (subset.tells_loading()) bench.input_ohm = chance.uniform(100, 1000);
      if (subset.open && !subset.at_load()) bench.crosstalk = chance.noise(0.01);
      if (subset.input) options.input_ohm = bench.input_ohm;
      Calibration calibration = recorded(subset, bench, chance.known_ohm, 0, chance);
      calibration.known_ohm = chance.known_ohm;
      const auto result = impedance(transfer(bench.ratio(chance.load_ohm)), calibration, options);
      worst = std::max(worst, std::abs(result.impedance_ohm[0] / chance.load_ohm - 1.0));
    }
    EXPECT_LT(worst, 1e-9) << name_of(subset);
  }
}

TEST(ImpedanceSubsets, CoverWhatTheyDoNotTell) {
  for (const Subset& subset : all_subsets()) {
    int inside = 0;
    double worst = 0;
    for (unsigned seed = 0; seed < 200; ++seed) {
      RandomBench chance(seed);
      Bench bench;
      ImpedanceOptions options;
      bench.wiring = options.wiring = subset.wiring;
      options.reference_ohm = chance.reference_ohm;
      options.reference_tolerance_percent = 2;
      bench.reference_ohm = chance.reference_ohm * chance.uniform(0.98, 1.02);
      bench.gain = std::polar(1 + chance.uniform(-0.01, 0.01), chance.uniform(-0.002, 0.002));
      bench.lead_ohm = chance.uniform(0, 0.2);
      bench.input_ohm = 10e3 / chance.uniform(0.05, 1);
      if (!subset.at_load()) bench.crosstalk = subset.open ? chance.noise(1e-3) : 0;
      if (subset.input) options.input_ohm = bench.input_ohm;
      const double rms = 1e-4;
      Calibration calibration = recorded(subset, bench, chance.known_ohm, rms, chance);
      calibration.known_ohm = chance.known_ohm * chance.uniform(0.99, 1.01);
      calibration.known_tolerance_percent = 1;
      const Complex m = bench.ratio(chance.load_ohm) + chance.noise(rms);
      const auto result = impedance(transfer(m, rms), calibration, options);
      const Complex away = (result.impedance_ohm[0] - chance.load_ohm) / result.uncertainty_ohm[0];
      inside += std::abs(away.real()) <= 2 && std::abs(away.imag()) <= 2;
      worst = std::max({worst, std::abs(away.real()), std::abs(away.imag())});
    }
    EXPECT_GE(inside, 190) << name_of(subset) << ": of 200";
    EXPECT_LT(worst, 4) << name_of(subset);
  }
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
