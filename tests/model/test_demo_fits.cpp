// The passive fit on the demo earphones, the demands of the fit in figures.
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/curve/read_curve.h>
#include <ohmtilt/model/passive_fit.h>

#include <random>

#include "tests/model/fits.h"
#include "tests/support.h"

namespace {

using namespace ohmtilt;
using test::phase_rms_deg;

class DemoFit : public testing::TestWithParam<const char*> {
 protected:
  ImpedanceCurve curve() const {
    return read_impedance(test::source_dir() / "impedance-curves" / GetParam()).value;
  }
};

TEST_P(DemoFit, WithinHalfAPercent) {
  const auto fit = fit_passive_model(curve());
  EXPECT_LT(fit.rms_error_percent, 0.1);  // demanded: 0.5
  EXPECT_LT(fit.largest_error_percent, 0.5);
  EXPECT_LT(fit.phase_error_deg, 0.1);
  EXPECT_LT(rational_form(fit.model, {}).largest_error_percent, 0.1);
}

TEST_P(DemoFit, WithOnePercentOfNoise) {
  const auto clean = curve();
  std::mt19937 generator(3);
  std::normal_distribution<double> normal;
  ComplexArray z = clean.impedance_ohm();
  double squares = 0;
  for (Complex& value : z) {
    // 1 % of |Z| in all, half of its power on each axis.
    const Complex noise = 0.01 / std::sqrt(2.0) * Complex(normal(generator), normal(generator));
    squares += std::norm(noise);
    value *= 1.0 + noise;
  }
  const double noise_percent = 100 * std::sqrt(squares / static_cast<double>(z.size()));
  const auto fit =
      fit_passive_model(ImpedanceCurve({}, clean.frequency_hz(), z.abs(), z.arg() / degree));
  EXPECT_LT(fit.rms_error_percent, 1.2 * noise_percent);
  const ComplexArray found = evaluate(fit.model, clean.frequency_hz());
  const Array error = (found - clean.impedance_ohm()).abs() / clean.magnitude_ohm();
  EXPECT_LT(std::sqrt(error.square().mean()), 0.005);  // nearer to the truth than the data
}

TEST_P(DemoFit, FromTheMagnitudeAlone) {
  const auto full = curve();
  const auto fit = fit_passive_model(ImpedanceCurve({}, full.frequency_hz(), full.magnitude_ohm()));
  EXPECT_LT(fit.rms_error_percent, 0.1);  // demanded: 1
  EXPECT_LT(phase_rms_deg(fit.model, full), 3);
}

INSTANTIATE_TEST_SUITE_P(Curves, DemoFit,
                         testing::Values("single-dynamic.csv", "planar.csv", "two-way-armature.csv",
                                         "five-armature.csv", "dynamic-armature-hybrid.csv",
                                         "dynamic-piezo-hybrid.csv"));

}  // namespace
