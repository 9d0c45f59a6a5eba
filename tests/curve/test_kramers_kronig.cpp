#include <ohmtilt/curve/kramers_kronig.h>
#include <ohmtilt/text/error.h>

#include <numbers>

#include "tests/support.h"

namespace {
using namespace ohmtilt;

struct Published {
  Array hz;
  ComplexArray z, real_fit, complex_fit;
};

// tests/data/linear_kk_dummy_cell.csv: measured dummy cell with published fits of the test by
// Schoenleber, Klotz and Ivers-Tiffee (2014); data under the MIT licence, see tests/data/README.md.
Published published() {
  const auto rows = test::csv_rows(test::data("linear_kk_dummy_cell.csv"));
  const auto count = static_cast<Eigen::Index>(rows.size());
  Published data{Array(count), ComplexArray(count), ComplexArray(count), ComplexArray(count)};
  for (Eigen::Index i = 0; i < count; ++i) {
    const auto& row = rows[static_cast<std::size_t>(i)];
    const auto number = [&row](const char* name) { return std::stod(row.at(name)); };
    data.hz[i] = number("f_Hz");
    data.z[i] = {number("Z_re"), number("Z_im")};
    data.real_fit[i] = {number("fit_real_M10_re"), number("fit_real_M10_im")};
    data.complex_fit[i] = {number("fit_complex_M5_re"), number("fit_complex_M5_im")};
  }
  return data;
}

TEST(LinearTest, PublishedRealPartRun) {
  const auto data = published();
  LinearTestOptions options;
  options.part = ImpedancePart::real;
  options.limit = 0.69;
  const auto test = linear_test(data.hz, data.z, options);
  EXPECT_EQ(test.elements, 10);
  EXPECT_NEAR(test.mu, 0.6843821117885378, 1e-10);
  EXPECT_LT(((test.fit - data.real_fit).abs() / data.z.abs()).maxCoeff(), 1e-8);
  // Computed with NumPy from the published fit in the file: largest residual 3.8 % although the
  // cell is a plain R-RC circuit.
  EXPECT_NEAR(test.residual.abs().maxCoeff(), 0.038, 0.002);
}

TEST(LinearTest, PublishedComplexRun) {
  const auto data = published();
  LinearTestOptions options;
  options.elements = 5;
  const auto test = linear_test(data.hz, data.z, options);
  EXPECT_LT(((test.fit - data.complex_fit).abs() / data.z.abs()).maxCoeff(), 1e-8);
}

// Published run (validation example of the package that data/linear_kk_dummy_cell.csv names):
// battery data below 1 kHz with Im Z < 0, complex fit with series capacitance, c = 0.5: M = 26, mu
// = 0.31.
TEST(LinearTest, PublishedBatteryRun) {
  std::vector<double> hz;
  std::vector<Complex> z;
  for (const auto& row : test::csv_rows(test::data("eis_example_battery.csv"))) {
    const Complex value(std::stod(row.at("Z_re")), std::stod(row.at("Z_im")));
    if (std::stod(row.at("f_Hz")) >= 1000 || value.imag() >= 0) continue;
    hz.push_back(std::stod(row.at("f_Hz")));
    z.push_back(value);
  }
  LinearTestOptions options;
  options.limit = 0.5;
  options.capacitance = true;
  const auto count = static_cast<Eigen::Index>(hz.size());
  const auto test = linear_test(Eigen::Map<Array>(hz.data(), count),
                                Eigen::Map<ComplexArray>(z.data(), count), options);
  EXPECT_EQ(test.elements, 26);
  EXPECT_NEAR(test.mu, 0.31, 0.005);
}

// Exact by definition: tau log-spaced from 1/w_max to 1/w_min; mu = 1 - sum of negative |Rk| over
// sum of positive Rk (Schoenleber et al., Electrochim. Acta 131, 2014, 20-27).
TEST(LinearTest, TimeConstantsAndMu) {
  const Array hz = (Array(5) << 1000, 100, 10, 1, 0.1).finished() / (2 * std::numbers::pi);
  const Array tau = time_constants(hz, 3);
  EXPECT_NEAR(tau[0], 0.001, 1e-18);
  EXPECT_NEAR(tau[1], 0.1, 1e-15);
  EXPECT_NEAR(tau[2], 10, 1e-14);
  EXPECT_EQ(time_constants(hz, 1)[0], tau[0]);
  EXPECT_DOUBLE_EQ(mu_of((Array(6) << 1, 2, 3, -3, -2, -1).finished()), 0);
  EXPECT_DOUBLE_EQ(mu_of((Array(6) << -1, 2, 4, -3, 4, -1).finished()), 0.5);
}

// R-RC data are in the model's class: all three fits leave nothing.
TEST(LinearTest, AllPartsOnAnExactCell) {
  const Array hz = (Array::LinSpaced(60, 0, 5) * std::log(10.0)).exp();
  const ComplexArray s = Complex(0, 2 * std::numbers::pi) * hz.cast<Complex>();
  const double tau = 1 / (2 * std::numbers::pi * 1e5);
  const ComplexArray z = 10 + 5.0 * (1.0 + s * tau).inverse() + s * 1e-5;
  for (const auto part : {ImpedancePart::complex, ImpedancePart::real, ImpedancePart::imaginary}) {
    LinearTestOptions options;
    options.part = part;
    options.elements = 7;
    EXPECT_LT(linear_test(hz, z, options).residual.abs().maxCoeff(), 1e-6);
  }
}

TEST(LinearTest, RefusesOptionsOutOfRange) {
  const auto data = published();
  LinearTestOptions options;
  options.limit = 2;
  EXPECT_THROW(linear_test(data.hz, data.z, options), InputError);
  EXPECT_THROW(linear_test(data.hz, data.z.head(3), {}), InputError);
}

}  // namespace
