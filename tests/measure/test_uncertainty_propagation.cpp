#include <gtest/gtest.h>

#include <ohmtilt/measure/uncertainty_propagation.h>
#include <ohmtilt/text/error.h>
#include <cmath>

namespace ohmtilt {
namespace {

using Eigen::Matrix3d;
using Eigen::Vector3d;
using Eigen::VectorXd;

/// Resistance, reactance and modulus from voltage, current and phase angle (GUM H.2.2).
VectorXd component(const VectorXd& x) {
  const double ratio = x[0] / x[1];
  return Vector3d(ratio * std::cos(x[2]), ratio * std::sin(x[2]), ratio);
}

// GUM (JCGM 100:2008), example H.2, tables H.2 to H.4: printed inputs and results.
TEST(Gum, ExampleH2FromThePrintedMeans) {
  Matrix3d r;
  r << 1, -0.36, 0.86, -0.36, 1, -0.65, 0.86, -0.65, 1;
  const Estimate out = propagated(
      estimate(Vector3d(4.999, 19.661e-3, 1.04446), Vector3d(0.0032, 0.0095e-3, 0.00075), r),
      component);
  EXPECT_NEAR(out.value[0], 127.732, 5e-4);
  EXPECT_NEAR(out.value[1], 219.85, 5e-3);
  EXPECT_NEAR(out.value[2], 254.26, 5e-3);
  EXPECT_NEAR(out.uncertainty()[0], 0.070, 5e-4);
  EXPECT_NEAR(out.uncertainty()[1], 0.30, 5e-3);
  EXPECT_NEAR(out.uncertainty()[2], 0.24, 5e-3);
  EXPECT_NEAR(out.correlation(0, 1), -0.59, 5e-3);
  EXPECT_NEAR(out.correlation(0, 2), -0.49, 5e-3);
  // Recomputed from the same inputs in Python, one digit further.
  EXPECT_NEAR(out.uncertainty()[0], 0.06998, 5e-6);
  EXPECT_NEAR(out.uncertainty()[1], 0.29572, 5e-6);
  EXPECT_NEAR(out.uncertainty()[2], 0.23660, 5e-6);
  EXPECT_NEAR(out.correlation(1, 2), 0.9928, 5e-5);
}

/// Means of simultaneous readings, one row an observation, and their covariance (GUM 4.2.3, 5.2.3).
Estimate estimate_of_readings(const Eigen::MatrixXd& readings) {
  const auto n = static_cast<double>(readings.rows());
  const VectorXd mean = readings.colwise().mean().transpose();
  const Eigen::MatrixXd centred = readings.rowwise() - mean.transpose();
  return {mean, centred.transpose() * centred / (n * (n - 1))};
}

// The five simultaneous readings (from memory; their means, standard errors and correlations
// reproduce the printed table H.2), the results recomputed from them in Python.
TEST(Gum, ExampleH2FromTheFiveReadings) {
  Eigen::MatrixXd readings(5, 3);
  readings << 5.007, 19.663e-3, 1.0456, 4.994, 19.639e-3, 1.0438, 5.005, 19.640e-3, 1.0468, 4.990,
      19.685e-3, 1.0428, 4.999, 19.678e-3, 1.0433;
  const Estimate in = estimate_of_readings(readings);
  EXPECT_NEAR(in.value[0], 4.9990, 5e-5);
  EXPECT_NEAR(in.value[1], 19.6610e-3, 5e-8);
  EXPECT_NEAR(in.value[2], 1.04446, 5e-6);
  EXPECT_NEAR(in.uncertainty()[0], 0.0032, 5e-5);
  EXPECT_NEAR(in.uncertainty()[1], 0.0095e-3, 5e-8);
  EXPECT_NEAR(in.uncertainty()[2], 0.00075, 5e-6);
  EXPECT_NEAR(in.correlation(0, 1), -0.36, 5e-3);
  EXPECT_NEAR(in.correlation(0, 2), 0.86, 5e-3);
  EXPECT_NEAR(in.correlation(1, 2), -0.65, 5e-3);
  // The example's second way: the results of each observation first, then their means.
  Eigen::MatrixXd each(5, 3);
  for (Eigen::Index i = 0; i < 5; ++i) each.row(i) = component(readings.row(i).transpose());
  const Estimate out = estimate_of_readings(each);
  EXPECT_NEAR(out.value[0], 127.73163, 5e-6);
  EXPECT_NEAR(out.value[1], 219.84689, 5e-6);
  EXPECT_NEAR(out.value[2], 254.26005, 5e-6);
  EXPECT_NEAR(out.uncertainty()[0], 0.07127, 5e-6);
  EXPECT_NEAR(out.uncertainty()[1], 0.29549, 5e-6);
  EXPECT_NEAR(out.uncertainty()[2], 0.23625, 5e-6);
  EXPECT_NEAR(out.correlation(0, 1), -0.5883, 5e-5);
  EXPECT_NEAR(out.correlation(0, 2), -0.4851, 5e-5);
  EXPECT_NEAR(out.correlation(1, 2), 0.9925, 5e-5);
  // Linear propagation from the means differs from it by terms of second order only.
  const Array linear = propagated(in, component).uncertainty();
  EXPECT_LT((linear / out.uncertainty() - 1).abs().maxCoeff(), 0.003);
}

TEST(Gum, CommonErrorsCancelInARatio) {
  Eigen::Matrix2d together = Eigen::Matrix2d::Ones();
  const auto ratio = [](const VectorXd& x) { return VectorXd(VectorXd::Constant(1, x[0] / x[1])); };
  const Eigen::Vector2d x(2, 4), u(0.02, 0.04);
  EXPECT_NEAR(propagated(estimate(x, u, together), ratio).uncertainty()[0], 0, 1e-5);
  EXPECT_NEAR(propagated(estimate(x, u), ratio).uncertainty()[0], 0.5 * 0.01 * std::sqrt(2.0),
              1e-6);
}

TEST(Gum, ExactInputsGiveExactOutputs) {
  const Estimate out = propagated(estimate(Vector3d(5, 0.02, 1), Vector3d::Zero()), component);
  EXPECT_EQ(out.covariance.cwiseAbs().maxCoeff(), 0);
  EXPECT_EQ(out.correlation(0, 1), 0);
}

TEST(Gum, RefusesWhatIsNotAnUncertainty) {
  EXPECT_THROW(estimate(Vector3d(1, 2, 3), Vector3d(1, -1, 0)), InputError);
  EXPECT_THROW(estimate(Vector3d(1, 2, 3), Eigen::Vector2d(1, 1)), InputError);
}

// GUM 4.3.7: a half-width a gives a^2/3 of variance.
TEST(Gum, RectangularLimit) { EXPECT_NEAR(uncertainty_of_limit(3), 1.7320508075688772, 1e-15); }

}  // namespace
}  // namespace ohmtilt
