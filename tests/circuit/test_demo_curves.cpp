// The demo curves are worked out by NumPy (tests/outside/reference_circuit.py), apart from the C++
// solver; here the solver answers for each of their circuits.
#include <gtest/gtest.h>

#include <ohmtilt/circuit/read_circuit.h>
#include <ohmtilt/circuit/solver.h>

#include <numbers>

#include "tests/support.h"

namespace ohmtilt::test {
namespace {

struct Rows {
  Array hz;
  ComplexArray ohm;
};

Rows rows_of(const std::filesystem::path& file) {
  const auto rows = csv_rows(file);
  Rows result{Array(rows.size()), ComplexArray(rows.size())};
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const auto at = static_cast<Eigen::Index>(i);
    result.hz[at] = std::stod(rows[i].at("frequency_hz"));
    result.ohm[at] = std::polar(std::stod(rows[i].at("magnitude_ohm")),
                                std::stod(rows[i].at("phase_deg")) * std::numbers::pi / 180);
  }
  return result;
}

TEST(DemoCircuits, GiveTheDemoCurves) {
  const std::string ending = ".circuit.toml";
  int circuits = 0;
  for (const auto& entry : std::filesystem::directory_iterator(source_dir() / "impedance-curves")) {
    const std::string name = entry.path().filename().string();
    if (!name.ends_with(ending)) continue;
    SCOPED_TRACE(name);
    ++circuits;
    const std::string curve = name.substr(0, name.size() - ending.size()) + ".csv";
    const Rows expected = rows_of(entry.path().parent_path() / curve);
    ASSERT_EQ(expected.hz.size(), 480);
    const ComplexArray found = driving_point(read_circuit(entry.path()).value, expected.hz);
    EXPECT_LT(((found - expected.ohm).abs() / expected.ohm.abs()).maxCoeff(), 1e-9);
  }
  EXPECT_GE(circuits, 6);
}

}  // namespace
}  // namespace ohmtilt::test
