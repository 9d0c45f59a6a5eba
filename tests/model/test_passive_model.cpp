#include <ohmtilt/base/decibel.h>
#include <ohmtilt/circuit/solver.h>
#include <ohmtilt/model/passive_fit.h>
#include <ohmtilt/model/vector_fitting.h>
#include <ohmtilt/text/error.h>

#include <numbers>
#include <random>

#include "tests/model/fits.h"
#include "tests/support.h"

namespace {

using namespace ohmtilt;
using test::phase_rms_deg;
using test::pi;
const Band audio{20, 20000};

ModelBlock resistor(double ohm) { return {BlockKind::resistor, ohm, 0, 0, 0, 0}; }
ModelBlock inductor(double henry) { return {BlockKind::inductor, 0, henry, 0, 0, 0}; }
ModelBlock capacitor(double farad) { return {BlockKind::capacitor, 0, 0, farad, 0, 0}; }
ModelBlock lossy(double k, double n) { return {BlockKind::lossy_inductor, 0, 0, 0, k, n}; }
ModelBlock resonance(double ohm, double hz, double q) {
  const double w0 = 2 * pi * hz;
  return {BlockKind::resonance, ohm, ohm / (w0 * q), q / (w0 * ohm), 0, 0};
}

/// Invented: a moving coil; a two-way pair of armatures, the second behind a capacitor.
PassiveModel dynamic() {
  return {{}, {{resistor(17), lossy(0.0011, 0.72), resonance(6, 480, 1.6)}}};
}
PassiveModel two_way() {
  return {{resistor(0.6)},
          {{resistor(23.7), inductor(2.2e-4), lossy(0.13, 0.5), resonance(24, 1450, 2.2)},
           {capacitor(2.2e-6), resistor(11.2), lossy(0.022, 0.5), resonance(5, 8800, 5)}}};
}

ImpedanceCurve curve_of(const PassiveModel& model, Eigen::Index points = 480) {
  const Array hz = log_grid(audio, points);
  const ComplexArray z = evaluate(model, hz);
  return {{}, hz, z.abs(), z.arg() / degree};
}

ImpedanceCurve magnitude_only(const ImpedanceCurve& curve) {
  return {curve.notes(), curve.frequency_hz(), curve.magnitude_ohm()};
}

TEST(PassiveModel, ElementsAtTheirLimits) {
  const Array hz = Array::Constant(1, 480);
  EXPECT_NEAR(std::abs(evaluate(resonance(6, 480, 1.6), hz)[0] - Complex(6, 0)), 0, 1e-12);
  EXPECT_NEAR(resonance_hz(resonance(6, 480, 1.6)), 480, 1e-10);
  EXPECT_NEAR(resonance_q(resonance(6, 480, 1.6)), 1.6, 1e-12);
  // (jw)^0.7 has 63 degrees everywhere (Leach 2002); by NumPy 6.89e-3 (jw)^0.7 is 1.425581 +
  // j2.797860 at 1 kHz.
  const Complex z = evaluate(lossy(6.89e-3, 0.7), Array::Constant(1, 1000))[0];
  EXPECT_NEAR(z.real(), 1.425581, 5e-7);
  EXPECT_NEAR(z.imag(), 2.797860, 5e-7);
}

TEST(PassiveModel, ItsCircuitSolvesToTheSameImpedance) {
  const Array hz = log_grid(audio, 50);
  for (const auto& model : {dynamic(), two_way()}) {
    const ComplexArray z = evaluate(model, hz);
    const ComplexArray solved = driving_point(circuit_of(model, "model"), hz);
    EXPECT_LT(((solved - z).abs() / z.abs()).maxCoeff(), 1e-12);
  }
  EXPECT_EQ(parts(two_way()).size(), 13U);
  EXPECT_EQ(parts(two_way())[0].name, "R1");
}

TEST(LossyInductor, RationalFormIsWithinATenthOfAPercentAndPassive) {
  for (const double n : {0.02, 0.3, 0.5, 0.7, 0.95, 0.999, 1.0}) {
    const auto form = lossy_inductor_rational(0.03, n, audio);
    const Array hz = log_grid(audio, 997);
    const ComplexArray exact = evaluate(lossy(0.03, n), hz);
    const double error = 100 * ((evaluate(form.model, hz) - exact).abs() / exact.abs()).maxCoeff();
    EXPECT_LT(error, 0.11) << n;
    EXPECT_NEAR(error, form.largest_error_percent, 0.02) << n;
    EXPECT_TRUE(passivity(form.model).passive) << n;
    EXPECT_LE(form.model.order(), 10) << n;
  }
  EXPECT_LT(lossy_inductor_rational(0.03, 0.6, audio, 0.01).largest_error_percent, 0.01);
  EXPECT_THROW(lossy_inductor_rational(0.03, 1.2, audio), InputError);
}

TEST(RationalForm, FollowsTheModelAndKeepsItsModes) {
  for (const auto& model : {dynamic(), two_way()}) {
    const auto form = rational_form(model, audio);
    EXPECT_LT(form.largest_error_percent, 0.1);
    EXPECT_TRUE(passivity(form.model).passive);
  }
  // A resonance alone behind a resistance: the pole is the part's own.
  const auto form = rational_form({{}, {{resistor(10), resonance(30, 900, 4)}}}, audio);
  ASSERT_EQ(form.model.order(), 2);
  EXPECT_NEAR(mode(poles(form.model)[0]).hz, 900, 1e-9);
  EXPECT_NEAR(mode(poles(form.model)[0]).q, 4, 1e-12);
  EXPECT_LT(form.largest_error_percent, 1e-10);
}

TEST(RationalForm, CriticalAndOverdampedResonances) {
  for (const double q : {0.2, 0.5, 0.50000001, 0.7}) {
    const auto form = rational_form({{}, {{resistor(10), resonance(30, 900, q)}}}, audio);
    EXPECT_LT(form.largest_error_percent, 1e-3) << q;
  }
}

TEST(PassiveFit, RecoversACircuitOfItsOwnClass) {
  const auto fit = fit_passive_model(curve_of(dynamic()));
  EXPECT_EQ(fit.order, 6);
  EXPECT_EQ(fit.resonances, 1);
  EXPECT_EQ(fit.stop, PassiveFit::Stop::exact_enough);
  EXPECT_LT(fit.largest_error_percent, 0.02);
  ASSERT_EQ(fit.model.branches.size(), 1U);
  for (const ModelBlock& e : fit.model.branches[0]) {
    if (e.kind != BlockKind::resonance) continue;
    EXPECT_NEAR(resonance_hz(e), 480, 0.1);
    EXPECT_NEAR(resonance_q(e), 1.6, 1e-3);
    EXPECT_NEAR(e.ohm, 6, 1e-3);
  }
}

TEST(PassiveFit, FollowsACrossoverWithinATenthOfAPercent) {
  const auto curve = curve_of(two_way());
  const auto fit = fit_passive_model(curve);
  EXPECT_LT(fit.rms_error_percent, 0.1);
  EXPECT_LT(fit.phase_error_deg, 0.1);
  const auto blind = fit_passive_model(magnitude_only(curve));
  EXPECT_LT(blind.rms_error_percent, 0.1);
  EXPECT_LT(blind.phase_error_deg, 0.5);  // of the computed minimum phase
  EXPECT_LT(phase_rms_deg(blind.model, curve), 3);
}

TEST(PassiveFit, NoiseIsNotFitted) {
  const auto curve = curve_of(two_way());
  std::mt19937 generator(20);
  std::normal_distribution<double> normal;
  Array magnitude = curve.magnitude_ohm(), phase = curve.phase_deg();
  for (Eigen::Index i = 0; i < curve.points(); ++i) {
    magnitude[i] *= 1 + 0.01 * normal(generator);
    phase[i] += 0.01 * normal(generator) / degree;
  }
  const auto fit = fit_passive_model(ImpedanceCurve({}, curve.frequency_hz(), magnitude, phase));
  // 1 % on each axis is 1.414 % of the complex value.
  EXPECT_LT(fit.rms_error_percent, 1.2 * std::sqrt(2.0));
  EXPECT_GT(fit.rms_error_percent, std::sqrt(2.0) / 1.1);
  EXPECT_LT(phase_rms_deg(fit.model, curve), 0.3);
  EXPECT_LE(fit.order, 24);
}

TEST(PassiveFit, AllValuesArePositive) {
  const auto fit = fit_passive_model(curve_of(two_way()));
  for (const auto& part : parts(fit.model))
    for (const auto& value : part.values) {
      if (value.key == "series_ohm") continue;  // of an inductor or capacitor: none
      EXPECT_GT(value.value, 0) << part.name << value.key;
    }
  const auto form = rational_form(fit.model, audio);
  EXPECT_TRUE(passivity(form.model).passive);
}

TEST(PassiveFit, TooFewPointsAreRefused) {
  EXPECT_THROW(fit_passive_model(curve_of(dynamic(), 7)), InputError);
}

TEST(PassiveFit, SameInputSameBytes) {
  const auto curve = curve_of(two_way(), 200);
  const auto first = parts(fit_passive_model(curve).model);
  const auto second = parts(fit_passive_model(curve).model);
  ASSERT_EQ(first.size(), second.size());
  for (std::size_t i = 0; i < first.size(); ++i)
    for (std::size_t v = 0; v < first[i].values.size(); ++v)
      EXPECT_EQ(first[i].values[v].value, second[i].values[v].value);
}

}  // namespace
