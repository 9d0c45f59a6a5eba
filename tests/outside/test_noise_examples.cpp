// Johnson-Nyquist noise: textbook examples and a table; the data files name them.
#include <ohmtilt/circuit/thermal_noise.h>

#include "tests/circuit/circuits.h"

namespace ohmtilt::test {
namespace {

double density(const std::vector<Part>& parts, double kelvin) {
  return thermal_noise(circuit_of(parts), one_kilohertz, {}, kelvin).volt_per_root_hz[0];
}

// The sources take k = 1.38e-23; limits are half of their last printed digit.
TEST(NoiseExamples, TextbookResultsAgreeToTheirRounding) {
  const auto single = [](double ohm, double kelvin, double hz) {
    return 1e6 * density({resistor("R", "in", "0", ohm)}, kelvin) * std::sqrt(hz);
  };
  EXPECT_NEAR(single(50, 290, 1e6), 0.89, 0.005);          // Roddy and Coolen ex. 4.2.1 p. 120
  EXPECT_NEAR(single(20e3, 290, 1e5), 5.66, 0.005);        // ex. 4.2.2 p. 122
  EXPECT_NEAR(single(50e3, 290, 1e5), 8.949, 0.005);       // the same; its last digit is off
  EXPECT_NEAR(single(10e3, 300, 2e6), 18.2, 0.05);         // Kennedy et al. ex. 2.2 p. 19
  EXPECT_NEAR(single(300, 293, 6e6), 5.4, 0.05);           // Blake ex. 1.5 p. 20
  EXPECT_NEAR(single(10e3, 298.15, 19980), 1.81, 0.005);   // Franco ex. 7.4 p. 323
  EXPECT_NEAR(1e3 * single(10e3, 298.15, 1), 12.8, 0.05);  // the same: nV per root Hz
}

TEST(NoiseExamples, ResistorsInSeriesAndInParallel) {
  const auto series = density({resistor("a", "in", "m", 20e3), resistor("b", "m", "0", 50e3)}, 290);
  EXPECT_NEAR(1e6 * series * std::sqrt(1e5), 10.59, 0.006);  // Roddy and Coolen ex. 4.2.2
  const auto parallel =
      density({resistor("a", "in", "0", 20e3), resistor("b", "in", "0", 50e3)}, 290);
  EXPECT_NEAR(1e6 * parallel * std::sqrt(1e5), 4.784, 0.003);
  const auto two = density({resistor("a", "in", "m", 300), resistor("b", "m", "0", 200)}, 290);
  EXPECT_NEAR(1e6 * two * std::sqrt(6e6), 6.93, 0.005);  // Kennedy et al. ex. 2.3 p. 21
}

TEST(NoiseExamples, TwoTemperaturesAddInPower) {
  // Blake ex. 1.7 p. 23: 100 ohm at 300 K and 200 ohm at 400 K, 100 kHz: 779 nV.
  const auto at = [](double kelvin, std::size_t part) {
    const auto noise =
        thermal_noise(circuit_of({resistor("a", "in", "m", 100), resistor("b", "m", "0", 200)}),
                      one_kilohertz, {}, kelvin);
    return noise.parts[part].volt_per_root_hz[0];
  };
  EXPECT_NEAR(1e9 * std::hypot(at(300, 0), at(400, 1)) * std::sqrt(1e5), 779, 0.5);
}

// thermal_noise_density.csv: sqrt(4 k T R) with k exact.
TEST(NoiseExamples, DensitiesEqualTheTable) {
  const auto rows = csv_rows(data("thermal_noise_density.csv"));
  ASSERT_EQ(rows.size(), 20u);
  const std::vector<std::pair<const char*, double>> columns{{"290K_nV_rtHz", 290},
                                                            {"293.15K", 293.15},
                                                            {"298.15K", 298.15},
                                                            {"300K", 300},
                                                            {"310K", 310}};
  for (const auto& row : rows)
    for (const auto& [column, kelvin] : columns)
      EXPECT_NEAR(1e9 * density({resistor("R", "in", "0", std::stod(row.at("R_ohm")))}, kelvin),
                  std::stod(row.at(column)), 5.1e-7 + 1e-6 * std::stod(row.at(column)));
}

}  // namespace
}  // namespace ohmtilt::test
