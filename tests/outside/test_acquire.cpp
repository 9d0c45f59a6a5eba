// Recordings made by SciPy from a known circuit, against the impedance that comes out of them.
#include <tests/support.h>

#include <ohmtilt/base/decibel.h>
#include <ohmtilt/measure/acquire.h>
#include <algorithm>
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

/// What SciPy made of one kind, evaluated as options say, and how far from the truth it comes out.
struct Trial {
  std::string kind;
  int seeds;
  std::string seconds;
  bool with_stimulus = true;
};

std::string recordings_command(const Trial& trial, const std::filesystem::path& folder, int first,
                               int last) {
  return "PYTHONDONTWRITEBYTECODE=1 /usr/bin/python3 '" +
         (test::source_dir() / "tests/outside/acquire_recordings.py").string() + "' '" +
         folder.string() + "' " + trial.kind + " " + std::to_string(first) + "-" +
         std::to_string(last) + " " + trial.seconds;
}

Acquired acquired(const Trial& trial, const std::filesystem::path& folder, int seed) {
  AcquireFiles files;
  files.recording = folder / ("measured-" + std::to_string(seed) + ".wav");
  files.same = folder / ("same-" + std::to_string(seed) + ".wav");
  if (trial.with_stimulus) files.stimulus = folder / "stimulus.wav";
  AcquireOptions options;
  options.impedance.reference_ohm = 22;
  return acquire_impedance(files, options);
}

/// Ten seeds at a time, for the disk's sake.
Verdict verdict(const Trial& trial) {
  Verdict result;
  for (int first = 1; first <= trial.seeds; first += 10) {
    const int last = std::min(first + 9, trial.seeds);
    const test::Scratch scratch;
    const std::string command = recordings_command(trial, scratch.folder(), first, last);
    EXPECT_EQ(std::system(command.c_str()), 0) << command;
    const Truth expected = truth(scratch / "truth.csv");
    for (int seed = first; seed <= last; ++seed)
      judge(acquired(trial, scratch.folder(), seed), expected, result);
  }
  testing::Test::RecordProperty("largest_percent", std::to_string(result.magnitude_percent));
  testing::Test::RecordProperty("largest_deg", std::to_string(result.phase_deg));
  testing::Test::RecordProperty("coverage", std::to_string(result.inside / result.all));
  return result;
}

// What the README promises: 0.5 %, 0.5 degrees; stated uncertainty holds at 95 % of the
// frequencies.
TEST(AcquireAgainstSciPy, Sweep) {
  const Verdict v = verdict({"sweep", 50, "5"});
  EXPECT_LT(v.magnitude_percent, 0.5);
  EXPECT_LT(v.phase_deg, 0.5);
  EXPECT_GE(v.inside / v.all, 0.95);
}

// The second harmonic repeats with the period, but falls on even lines.
TEST(AcquireAgainstSciPy, OddLines) {
  const Verdict v = verdict({"odd", 10, "12"});
  EXPECT_LT(v.magnitude_percent, 0.5);
  EXPECT_LT(v.phase_deg, 0.5);
  EXPECT_GE(v.inside / v.all, 0.95);
}

// A stimulus of all lines: the harmonic cannot be told from the signal and counts as scatter.
TEST(AcquireAgainstSciPy, AllLines) {
  const Verdict v = verdict({"noise", 4, "12"});
  EXPECT_LT(v.magnitude_percent, 1.5);
  EXPECT_LT(v.phase_deg, 1);
  EXPECT_GE(v.inside / v.all, 0.95);
}

// The same without the stimulus: averaged cross-spectra of blocks.
TEST(AcquireAgainstSciPy, AveragesOfAllLines) {
  const Verdict v = verdict({"noise", 4, "20", false});
  EXPECT_LT(v.magnitude_percent, 1.5);
  EXPECT_LT(v.phase_deg, 1);
  EXPECT_GE(v.inside / v.all, 0.95);
}

}  // namespace
}  // namespace ohmtilt
