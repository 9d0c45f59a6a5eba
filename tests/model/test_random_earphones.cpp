// What `model` states and writes, on earphones drawn at random. The outside check is the nodal
// solver, which knows nothing of the fit; the earphones are exact, so that every error is the
// fit's.
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/circuit/solver.h>
#include <ohmtilt/curve/minimum_phase.h>
#include <ohmtilt/model/driver_parameters.h>
#include <ohmtilt/model/passive_fit.h>
#include <ohmtilt/model/rational_circuit.h>
#include <ohmtilt/model/rational_fit.h>
#include <ohmtilt/model/vector_fitting.h>

#include "tests/model/random_earphones.h"
#include "tests/support.h"

namespace ohmtilt::test {
namespace {

constexpr unsigned earphones = 200;

ImpedanceCurve curve_of_circuit(const Circuit& circuit, bool with_phase, int points) {
  const Array hz = log_grid({20, 20000}, points);
  const ComplexArray z = driving_point(circuit, hz);
  const ImpedanceCurve whole({}, hz, z.abs(), z.arg() / degree);
  return with_phase ? whole : ImpedanceCurve({}, hz, z.abs());
}

/// Written to a file's text and read back.
ComplexArray read_back(const Circuit& circuit, const Array& hz) {
  return driving_point(parse_circuit(circuit_text(circuit), "w.circuit.toml", ".").value, hz);
}

struct Errors {
  double rms_percent = 0, largest_percent = 0;
};

Errors errors_of(const ComplexArray& z, const ImpedanceCurve& curve) {
  const Array error = curve.has_phase() ? Array((z / curve.impedance_ohm() - 1.0).abs())
                                        : Array((z.abs() / curve.magnitude_ohm() - 1).abs());
  return {100 * std::sqrt(error.square().mean()), 100 * error.maxCoeff()};
}

template <class Fit>
void expect_stated(const Fit& fit, const Circuit& written, const ImpedanceCurve& curve,
                   unsigned seed) {
  const Errors found = errors_of(read_back(written, curve.frequency_hz()), curve);
  EXPECT_NEAR(found.rms_percent, fit.rms_error_percent, 1e-7 + 1e-6 * found.rms_percent) << seed;
  EXPECT_NEAR(found.largest_percent, fit.largest_error_percent, 1e-6 + 1e-6 * found.largest_percent)
      << seed;
}

/// A driver that is stated is there, and has these values.
void expect_driver(const DriverReading& reading, const RandomEarphone& earphone, unsigned seed) {
  if (!reading.driver) return;
  const auto& truth = earphone.moving_coil();
  EXPECT_NEAR(reading.driver->resonance_hz, truth.hz, 0.01 * truth.hz) << seed << reading.why;
  EXPECT_NEAR(reading.driver->q_mechanical, truth.q_mechanical, 0.02 * truth.q_mechanical) << seed;
}

/// Without phase the model has the phase that the rest of the program computes.
bool has_minimum_phase(const PassiveFit& fit, const ImpedanceCurve& curve, unsigned seed) {
  const Array turn =
      evaluate(fit.model, curve.frequency_hz()).arg() / degree - minimum_phase(curve).phase_deg;
  EXPECT_NEAR(std::sqrt(turn.square().mean()), fit.phase_error_deg, 1e-9) << seed;
  return fit.phase_error_deg < 1;
}

// Every third one without phase. A circuit that misses exact data by more than 0.1 % says so.
TEST(RandomEarphones, TheCircuitWrittenHasTheErrorStated) {
  int exact = 0, read = 0, without_phase = 0, near = 0;
  for (unsigned seed = 1; seed <= earphones; ++seed) {
    const RandomEarphone earphone(seed);
    const ImpedanceCurve curve = curve_of_circuit(earphone.circuit(), seed % 3 != 0, 120);
    const PassiveFit fit = fit_passive_model(curve);
    expect_stated(fit, circuit_of(fit.model, "w"), curve, seed);
    EXPECT_EQ(fit.falls_short(), fit.rms_error_percent > 0.1) << seed;
    const DriverReading reading = read_driver(fit, curve);
    expect_driver(reading, earphone, seed);
    if (!curve.has_phase()) {
      near += has_minimum_phase(fit, curve, seed);
      ++without_phase;
    }
    exact += !fit.falls_short();
    read += reading.driver.has_value();
  }
  EXPECT_GT(exact, 160);
  EXPECT_GT(read, 12);
  EXPECT_GT(near, 0.9 * without_phase);
}

// Where the circuit falls short the rational model is there.
TEST(RandomEarphones, TheRationalModelWrittenHasTheErrorStated) {
  int exact = 0;
  for (unsigned seed = 1; seed <= earphones; ++seed) {
    const RandomEarphone earphone(seed);
    const ImpedanceCurve curve = curve_of_circuit(earphone.circuit(), seed % 3 != 0, 80);
    const RationalFit fit = fit_rational_model(curve);
    expect_stated(fit, circuit_of(fit.model, "w"), curve, seed);
    EXPECT_TRUE(passivity(fit.model).passive) << seed;
    exact += fit.rms_error_percent < 0.1;
  }
  EXPECT_GT(exact, 160);
}

}  // namespace
}  // namespace ohmtilt::test
