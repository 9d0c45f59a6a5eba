#include <ohmtilt/analysis/inspection/curve_inspection.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/curve/read_curve.h>
#include <ohmtilt/text/error.h>

#include <gmock/gmock.h>
#include <numbers>
#include <random>

#include "tests/support.h"

namespace {
using namespace ohmtilt;
using testing::Contains;
using testing::IsEmpty;
using testing::Not;

std::vector<std::string> demo_names() {
  return {"single-dynamic.csv",          "planar.csv",
          "two-way-armature.csv",        "five-armature.csv",
          "dynamic-armature-hybrid.csv", "dynamic-piezo-hybrid.csv"};
}

ImpedanceCurve demo(const std::string& name = "two-way-armature.csv") {
  return read_impedance(test::source_dir() / "impedance-curves" / name).value;
}

std::vector<std::string> kinds(const ImpedanceCurve& curve) {
  std::vector<std::string> all;
  for (const Finding& finding : findings(curve)) all.push_back(finding.kind);
  return all;
}

ImpedanceCurve with_magnitude(const ImpedanceCurve& curve, const Array& ohm) {
  return {curve.notes(), curve.frequency_hz(), ohm, curve.phase_deg()};
}

ImpedanceCurve part_of(const ImpedanceCurve& c, Eigen::Index first, Eigen::Index count,
                       Eigen::Index step = 1) {
  const auto pick = Eigen::seqN(first, count, step);
  return {c.notes(), c.frequency_hz()(pick), c.magnitude_ohm()(pick), c.phase_deg()(pick)};
}

TEST(Findings, NoneOnTheCleanCurves) {
  for (const std::string& name : demo_names()) {
    EXPECT_THAT(kinds(demo(name)), IsEmpty()) << name;
    const auto curve = demo(name);
    const ImpedanceCurve blind({}, curve.frequency_hz(), curve.magnitude_ohm());
    EXPECT_THAT(kinds(blind), testing::ElementsAre("magnitude-only")) << name;
  }
}

TEST(Findings, NotPassive) {
  auto phase = demo().phase_deg();
  phase[100] = 95;
  const auto found = findings(demo().with_phase(phase));
  ASSERT_THAT(kinds(demo().with_phase(phase)), Contains("not-passive"));
  EXPECT_EQ(found[0].where_hz, std::vector<double>{demo().frequency_hz()[100]});
  EXPECT_FALSE(inspect(demo().with_phase(phase)).passive);
  EXPECT_TRUE(inspect(demo()).passive);
}

TEST(Findings, OutlierAndStepAreToldApart) {
  Array ohm = demo().magnitude_ohm();
  ohm[200] *= 1.08;
  EXPECT_THAT(kinds(with_magnitude(demo(), ohm)), testing::ElementsAre("outlier"));
  ohm = demo().magnitude_ohm();
  ohm.tail(280) *= 1.08;
  EXPECT_THAT(kinds(with_magnitude(demo(), ohm)), testing::ElementsAre("step"));
}

TEST(Findings, Sparse) {
  EXPECT_THAT(kinds(part_of(demo("five-armature.csv"), 0, 480 / 16, 16)), Contains("sparse"));
  EXPECT_THAT(kinds(part_of(demo("planar.csv"), 0, 480 / 16, 16)), Contains("sparse"));
  EXPECT_THAT(kinds(part_of(demo(), 0, 160, 3)), Not(Contains("sparse")));
}

TEST(Findings, Quantised) {
  const Array ohm = demo().magnitude_ohm();
  EXPECT_THAT(kinds(with_magnitude(demo(), (ohm * 5).round() / 5)), Contains("quantised"));
  EXPECT_THAT(kinds(with_magnitude(demo(), (ohm * 100).round() / 100)), Not(Contains("quantised")));
}

TEST(Findings, Noisy) {
  std::mt19937 generator(7);
  std::normal_distribution<double> normal;
  Array ohm = demo().magnitude_ohm();
  for (double& value : ohm) value *= 1 + 0.01 * normal(generator);
  EXPECT_THAT(kinds(with_magnitude(demo(), ohm)), Contains("noisy"));
  EXPECT_NEAR(inspect(with_magnitude(demo(), ohm)).noise_percent, 1, 0.15);
}

TEST(Findings, PhaseSignAndRadians) {
  for (const std::string& name : demo_names()) {
    const auto curve = demo(name);
    EXPECT_THAT(kinds(curve.with_phase(-curve.phase_deg())), Contains("phase-sign")) << name;
    EXPECT_THAT(kinds(curve.with_phase(curve.phase_deg() * degree)), Contains("phase-radians"))
        << name;
  }
}

TEST(Findings, Kilohm) {
  EXPECT_THAT(kinds(with_magnitude(demo(), demo().magnitude_ohm() / 1000)), Contains("kilohm"));
  EXPECT_THAT(kinds(with_magnitude(demo(), demo().magnitude_ohm() * 1000)), Contains("kilohm"));
}

TEST(Findings, ResponsesLookLikeResponses) {
  for (const std::string& name : demo_names()) {
    const auto file = name.substr(0, name.size() - 4) + ".response.csv";
    const auto response = read_response(test::source_dir() / "impedance-curves" / file).value;
    if (!(response.level_db() > 0).all()) continue;
    const ImpedanceCurve taken_for_one({}, response.frequency_hz(), response.level_db());
    EXPECT_THAT(kinds(taken_for_one), Contains("looks-like-response")) << name;
  }
}

TEST(Findings, BandMissing) {
  EXPECT_THAT(kinds(part_of(demo(), 100, 300)), Contains("band-missing"));
  EXPECT_THAT(kinds(part_of(demo(), 2, 476)), Not(Contains("band-missing")));
}

TEST(Causality, DemoEarphonesAreConsistent) {
  for (const std::string& name : demo_names())
    for (const auto part :
         {ImpedancePart::complex, ImpedancePart::real, ImpedancePart::imaginary}) {
      CausalityOptions options;
      options.part = part;
      const auto found = causality(demo(name), options);
      EXPECT_EQ(found.verdict, Causality::Verdict::consistent)
          << name << ' ' << found.rms_residual_percent << ' ' << found.phase_difference_rms_deg;
    }
}

TEST(Causality, ATurnedPhaseIsNot) {
  for (const std::string& name : demo_names()) {
    const auto curve = demo(name);
    if (name == "planar.csv") continue;  // its phase is below 11 degrees
    EXPECT_NE(causality(curve.with_phase(-curve.phase_deg())).verdict,
              Causality::Verdict::consistent)
        << name;
  }
  const auto drifting = with_magnitude(
      demo(), demo().magnitude_ohm() * (1 + 0.4 * (demo().frequency_hz() / 20).log() / 7).cos());
  EXPECT_GT(causality(drifting).phase_difference_rms_deg,
            causality(demo()).phase_difference_rms_deg);
  EXPECT_THROW(causality(ImpedanceCurve({}, demo().frequency_hz(), demo().magnitude_ohm())),
               InputError);
}

TEST(Inspection, FiguresOfTheCurve) {
  const auto curve = demo("single-dynamic.csv");
  InspectionOptions options;
  options.rated_ohm = 22;
  const auto seen = inspect(curve, options);
  EXPECT_NEAR(seen.points_an_octave, 479 / std::log2(1000.0), 1e-6);
  EXPECT_NEAR(*seen.at_20_hz_ohm, curve.magnitude_ohm()[0], 1e-12);
  EXPECT_NEAR(seen.dc_ohm, 17, 0.05);  // the file's circuit: 16.5 + 0.5 ohm
  EXPECT_DOUBLE_EQ(seen.rated_ohm, seen.lowest.ohm / 0.8);
  EXPECT_FALSE(*seen.rated_conforms);  // 17.02 < 0.8 * 22
  ASSERT_EQ(seen.resonances.size(), 1U);
  EXPECT_NEAR(seen.resonances[0].hz, 480, 5);
  EXPECT_TRUE(seen.causality.has_value());
  EXPECT_LT(seen.uncertainty_db, 0.1);
  EXPECT_FALSE(seen.for_reviewer.empty() || seen.for_designer.empty() || seen.for_owner.empty());
}

TEST(Inspection, UncertaintyGrowsWithWhatIsMissing) {
  const auto curve = demo();
  const ImpedanceCurve blind({}, curve.frequency_hz(), curve.magnitude_ohm());
  EXPECT_GT(inspect(blind).uncertainty_db, inspect(curve).uncertainty_db);
  std::mt19937 generator(7);
  std::normal_distribution<double> normal;
  Array ohm = curve.magnitude_ohm();
  for (double& value : ohm) value *= 1 + 0.01 * normal(generator);
  EXPECT_GT(inspect(with_magnitude(curve, ohm)).uncertainty_db, inspect(curve).uncertainty_db);
}

// NumPy: 2 * 0.1 * 20/ln 10 * |6/(Z + 6)|, the largest and that at 1 kHz in squares, of the demo
// curve: 0.57822 dB. Noise and residual of that curve are below 1e-3 dB.
TEST(Inspection, CountsTheUncertaintyOfTheFile) {
  const auto curve = demo();
  const ImpedanceCurve rough(curve.notes(), curve.frequency_hz(), curve.magnitude_ohm(),
                             curve.phase_deg(), 0.1 * curve.magnitude_ohm());
  const auto seen = inspect(rough);
  EXPECT_NEAR(seen.uncertainty_db, 0.57822, 1e-4);
  EXPECT_NE(seen.for_reviewer.find("0.58 dB"), std::string::npos) << seen.for_reviewer;
}

TEST(Inspection, ShortAndOddCurves) {
  const Array hz = (Array(9) << 100, 200, 300, 400, 500, 600, 700, 800, 900).finished();
  const auto seen = inspect(ImpedanceCurve({}, hz, Array::Constant(9, 16)));
  EXPECT_FALSE(seen.at_20_hz_ohm);
  EXPECT_FALSE(seen.at_1_khz_ohm);
  EXPECT_TRUE(seen.resonances.empty());
  const ImpedanceCurve two({}, hz.head(2), Array::Constant(2, 16), Array::Zero(2));
  EXPECT_NO_THROW(inspect(two));
}

}  // namespace
