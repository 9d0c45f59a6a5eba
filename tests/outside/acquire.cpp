// Recordings made by SciPy from a known circuit, against the impedance that comes out of them.
#include <tests/support.h>

#include <ohmtilt/base/decibel.h>
#include <ohmtilt/measure/acquire.h>
#include <cmath>

namespace ohmtilt {
namespace {

struct Truth {
  Array frequency_hz;
  ComplexArray impedance_ohm;
};

Truth truth(const std::filesystem::path& file) {
  const auto rows = test::csv_rows(file);
  Truth result{Array(static_cast<Eigen::Index>(rows.size())),
               ComplexArray(static_cast<Eigen::Index>(rows.size()))};
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const auto at = static_cast<Eigen::Index>(i);
    result.frequency_hz[at] = std::stod(rows[i].at("frequency_hz"));
    result.impedance_ohm[at] = {std::stod(rows[i].at("real_ohm")),
                                std::stod(rows[i].at("imag_ohm"))};
  }
  return result;
}

struct Verdict {
  double magnitude_percent = 0, phase_deg = 0;  ///< the largest errors
  double inside = 0, all = 0;                   ///< axes within two standard uncertainties
};

void judge(const Acquired& acquired, const Truth& truth, Verdict& verdict) {
  ASSERT_EQ(acquired.curve.points(), truth.frequency_hz.size());
  const ComplexArray z = acquired.curve.impedance_ohm();
  for (Eigen::Index i = 0; i < z.size(); ++i) {
    ASSERT_NEAR(acquired.curve.frequency_hz()[i] / truth.frequency_hz[i], 1, 1e-9);
    const Complex error = z[i] - truth.impedance_ohm[i];
    const double u = acquired.curve.uncertainty_ohm()[i];
    verdict.inside += (std::abs(error.real()) <= 2 * u) + (std::abs(error.imag()) <= 2 * u);
    verdict.all += 2;
    const Complex ratio = z[i] / truth.impedance_ohm[i];
    verdict.magnitude_percent =
        std::max(verdict.magnitude_percent, 100 * std::abs(std::abs(ratio) - 1));
    verdict.phase_deg = std::max(verdict.phase_deg, std::abs(std::arg(ratio)) / degree);
  }
}

/// seeds recordings of one kind, made ten at a time.
Verdict verdict(const std::string& kind, int seeds, const std::string& seconds) {
  Verdict result;
  for (int first = 1; first <= seeds; first += 10) {
    const test::Scratch scratch;
    const std::string command =
        "/usr/bin/python3 '" +
        (test::source_dir() / "tests/outside/acquire_recordings.py").string() + "' '" +
        scratch.folder().string() + "' " + kind + " " + std::to_string(first) + "-" +
        std::to_string(first + 9) + " " + seconds;
    EXPECT_EQ(std::system(command.c_str()), 0) << command;
    const Truth expected = truth(scratch / "truth.csv");
    for (int seed = first; seed < first + 10; ++seed) {
      AcquireFiles files;
      files.recording = scratch / ("measured-" + std::to_string(seed) + ".wav");
      files.same = scratch / ("same-" + std::to_string(seed) + ".wav");
      if (kind == "sweep") files.stimulus = scratch / "stimulus.wav";
      AcquireOptions options;
      options.impedance.reference_ohm = 22;
      judge(acquire_impedance(files, options), expected, result);
    }
  }
  return result;
}

// Limits of the project's own contract: 0.5 %, 0.5 degrees, 95 % of the frequencies, 50 seeds.
TEST(AcquireAgainstSciPy, Sweep) {
  const Verdict v = verdict("sweep", 50, "5");
  EXPECT_LT(v.magnitude_percent, 0.5);
  EXPECT_LT(v.phase_deg, 0.5);
  EXPECT_GE(v.inside / v.all, 0.95);
  RecordProperty("largest_percent", std::to_string(v.magnitude_percent));
  RecordProperty("largest_deg", std::to_string(v.phase_deg));
  RecordProperty("coverage", std::to_string(v.inside / v.all));
}

// Averaging cannot gate the harmonic out, which repeats with the noise's period: twice the limits.
TEST(AcquireAgainstSciPy, PeriodicNoise) {
  const Verdict v = verdict("noise", 10, "20");
  EXPECT_LT(v.magnitude_percent, 1.5);
  EXPECT_LT(v.phase_deg, 1);
  EXPECT_GE(v.inside / v.all, 0.95);
}

}  // namespace
}  // namespace ohmtilt
