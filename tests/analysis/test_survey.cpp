// Many earphones against many sources: what must hold whatever their curves are.
#include <tbb/global_control.h>

#include <cmath>
#include <random>

#include <ohmtilt/analysis/damping/damping.h>
#include <ohmtilt/analysis/deviation/comparison.h>
#include <ohmtilt/analysis/survey.h>
#include <ohmtilt/text/error.h>

#include "tests/support.h"

namespace ohmtilt {
namespace {

/// One resonance of random place, height and width (own invention); known over band.
Earphone invented(unsigned seed, const Band& band = {}, Eigen::Index points = 60) {
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> part(0, 1);
  const double dc = 4 + 30 * part(random), peak = 40 * part(random), q = 1 + 3 * part(random);
  const double hz0 = 100 * std::pow(100, part(random));
  const Array hz = log_grid(band, points);
  const Array detune = hz / hz0 - hz0 / hz;
  const ComplexArray z = dc + peak / (1.0 + Complex(0, q) * detune.cast<Complex>());
  return earphone_from_curve(ImpedanceCurve({"earphone " + std::to_string(seed), "", "", ""}, hz,
                                            z.abs(), z.arg() * (180 / std::acos(-1.0))));
}

Earphone flat(double ohm) {
  const Array hz = log_grid({20, 20000}, 10);
  return earphone_from_curve(
      ImpedanceCurve({"flat", "", "", ""}, hz, Array::Constant(10, ohm), Array::Zero(10)));
}

std::vector<TheveninSource> resistive(const std::vector<double>& ohms) {
  std::vector<TheveninSource> sources;
  for (const double ohm : ohms) sources.push_back(resistive_source(ohm));
  return sources;
}

Survey surveyed(const std::vector<Earphone>& earphones, const TheveninSource& from,
                const std::vector<TheveninSource>& to, const SurveyOptions& options = {}) {
  return survey(
      earphones.size(), [&](std::size_t i) { return earphones[i]; }, from, to, options);
}

std::vector<Earphone> invented_list(unsigned count) {
  std::vector<Earphone> list;
  for (unsigned i = 0; i < count; ++i) list.push_back(invented(i));
  return list;
}

TEST(Survey, FindsNothingWhereTheSourceIsTheFirstOne) {
  const Survey found = surveyed(invented_list(5), resistive_source(3), resistive({3}));
  for (const auto& row : found.rows) {
    EXPECT_NEAR(row.cells[0].deviation.span_db(), 0, 1e-12);
    EXPECT_NEAR(row.cells[0].deviation.level_change_db, 0, 1e-12);
  }
}

TEST(Survey, FindsOnlyALevelOnAFlatEarphone) {
  const Survey found = surveyed({flat(16)}, resistive_source(0), resistive({16, 1e6}));
  const auto& cells = found.rows.at(0).cells;
  EXPECT_NEAR(cells[0].deviation.span_db(), 0, 1e-12);
  EXPECT_NEAR(cells[1].deviation.span_db(), 0, 1e-12);
  // 16 ohm behind 16 ohm: half the voltage.
  EXPECT_NEAR(cells[0].deviation.level_change_db, -20 * std::log10(2.0), 1e-12);
  EXPECT_FALSE(found.rows[0].largest_source.ohm);
  EXPECT_FALSE(found.rows[0].largest_source.start_exceeds);
}

/// A source whose output impedance and open ratio both depend on frequency.
TheveninSource reactive_source() {
  const Band everywhere{1e-3, 1e9};
  const auto impedance = [](const Array& hz) -> ComplexArray {
    return 2.0 + Complex(0, 1e-3) * hz.cast<Complex>();
  };
  const auto ratio = [](const Array& hz) -> ComplexArray {
    return 0.5 / (1.0 + Complex(0, 1e-5) * hz.cast<Complex>());
  };
  return {"reactive", OnePort(everywhere, impedance), ratio, {}, nullptr};
}

TEST(Survey, SaysWhatTheDeviationSays) {
  auto to = resistive({0.3, 6, 120});
  to.push_back(reactive_source());
  for (const Anchor& anchor :
       {Anchor(AnchorFrequency{700}), Anchor(AnchorBand{200, 5000}), Anchor(NoAnchor{})}) {
    SurveyOptions options;
    options.anchor = anchor;
    options.points = 77;  // no multiple of any vector width
    ComparisonOptions how;
    how.anchor = anchor;
    how.points = 77;
    how.limit_db = 1;
    const auto earphones = invented_list(4);
    const Survey found = surveyed(earphones, reactive_source(), to, options);
    for (std::size_t e = 0; e < earphones.size(); ++e) {
      const Comparison one = compare_sources(earphones[e], reactive_source(), to, how);
      for (std::size_t i = 0; i < to.size(); ++i) {
        const Deviation& want = one.cases[i].deviation;
        const DeviationSummary& got = found.rows[e].cells[i].deviation;
        EXPECT_NEAR(got.span_db(), want.span_db, 1e-11);
        EXPECT_NEAR(got.rise_db, want.rise.db, 1e-11);
        EXPECT_NEAR(got.fall_db, want.fall.db, 1e-11);
        EXPECT_NEAR(got.level_change_db, want.level_change_db, 1e-11);
      }
      EXPECT_EQ(found.rows[e].largest_source.ohm, one.largest_source->ohm);
    }
  }
}

TEST(Survey, KnowsNoOrder) {
  const auto earphones = invented_list(9);
  const std::vector<Earphone> reversed(earphones.rbegin(), earphones.rend());
  const auto to = resistive({1, 10});
  const Survey one = surveyed(earphones, resistive_source(0), to);
  const Survey other = surveyed(reversed, resistive_source(0), resistive({10, 1}));
  for (std::size_t i = 0; i < 9; ++i) {
    EXPECT_EQ(one.rows[i].title, other.rows[8 - i].title);
    EXPECT_EQ(one.rows[one.ranking[i]].title, other.rows[other.ranking[i]].title);
    for (std::size_t s = 0; s < 2; ++s)
      EXPECT_EQ(one.rows[i].cells[s].deviation.span_db(),
                other.rows[8 - i].cells[1 - s].deviation.span_db());
  }
  for (std::size_t i = 1; i < 9; ++i)
    EXPECT_GE(one.rows[one.ranking[i - 1]].mean_span_db(), one.rows[one.ranking[i]].mean_span_db());
}

TEST(Survey, DoesNotDependOnThreads) {
  // More grids than are kept, so that which ones are depends on the threads.
  std::vector<Earphone> earphones;
  for (unsigned i = 0; i < 60; ++i) earphones.push_back(invented(i, {20.0 + i % 20, 20000}));
  auto to = resistive({0.3, 6});
  to.push_back(reactive_source());
  const auto with_threads = [&](std::size_t threads) {
    const tbb::global_control limit(tbb::global_control::max_allowed_parallelism, threads);
    return surveyed(earphones, reactive_source(), to);
  };
  const Survey one = with_threads(1);
  const Survey many = with_threads(8);
  ASSERT_EQ(one.rows.size(), 60u);
  EXPECT_EQ(one.ranking, many.ranking);
  for (std::size_t e = 0; e < 60; ++e) {
    EXPECT_EQ(one.rows[e].title, many.rows[e].title);
    EXPECT_EQ(one.rows[e].largest_source.ohm, many.rows[e].largest_source.ohm);
    for (std::size_t i = 0; i < to.size(); ++i) {
      EXPECT_EQ(one.rows[e].cells[i].deviation.rise_db, many.rows[e].cells[i].deviation.rise_db);
      EXPECT_EQ(one.rows[e].cells[i].deviation.level_change_db,
                many.rows[e].cells[i].deviation.level_change_db);
    }
  }
}

TEST(Survey, GivesEachEarphoneItsOwnBand) {
  const Survey found =
      surveyed({invented(1, {100, 9000}), invented(2)}, resistive_source(0), resistive({6}));
  EXPECT_EQ(found.rows[0].known.low_hz, 100);
  EXPECT_EQ(found.rows[0].known.high_hz, 9000);
  EXPECT_EQ(found.rows[1].known.low_hz, 20);
}

TEST(Survey, ListsWhatFailsAndGoesOn) {
  const std::vector<Earphone> earphones{invented(1), invented(2, {2000, 9000}), invented(3)};
  const auto read = [&](std::size_t i) {
    if (i == 0) throw InputError("it is torn", "mend it");
    return earphones[i];
  };
  double told = 0;
  SurveyOptions options;
  options.progress = [&told](double done) { told = done; };
  const Survey found = survey(3, read, resistive_source(0), resistive({6}), options);
  ASSERT_EQ(found.rows.size(), 1u);
  EXPECT_EQ(found.rows[0].place, 2u);
  ASSERT_EQ(found.failures.size(), 2u);
  EXPECT_EQ(found.failures[0].error, "it is torn; mend it");
  EXPECT_NE(found.failures[1].error.find("reference frequency"),
            std::string::npos);  // 1 kHz is below its data
  EXPECT_EQ(told, 1);
}

TEST(Survey, RefusesWhatNoEarphoneCouldMend) {
  const std::vector<Earphone> one{invented(1)};
  EXPECT_THROW(surveyed(one, resistive_source(0), {}), InputError);
  SurveyOptions options;
  options.points = 1;
  EXPECT_THROW(surveyed(one, resistive_source(0), resistive({1}), options), InputError);
  options = {};
  options.limit_db = 0;
  EXPECT_THROW(surveyed(one, resistive_source(0), resistive({1}), options), InputError);
}

// R. H. Small (J. Audio Eng. Soc. 20(5), 1972): behind Rs, Qes grows as (Re + Rs)/Re, and
// 1/Qts = 1/Qes + 1/Qms. A driver without a coil's inductance has no other mode.
TEST(Survey, FollowsTheQOfAMovingCoil) {
  const test::Scratch scratch;
  const auto file = scratch.write(
      "d.circuit.toml",
      "reference = \"b\"\n[ports]\nterminals = [\"a\", \"b\"]\n[[part]]\nname = \"D\"\n"
      "kind = \"dynamic-driver\"\nnodes = [\"a\", \"b\"]\ndc_ohm = 16\nresonance_hz = 80\n"
      "q_mechanical = 3\nq_electrical = 2\n");
  SurveyOptions options;
  options.q_changes = true;
  const Survey found =
      surveyed({read_earphone(file)}, resistive_source(0), resistive({0, 16}), options);
  const double before = 1 / (1 / 2.0 + 1 / 3.0), after = 1 / (1 / 4.0 + 1 / 3.0);
  ASSERT_TRUE(found.rows.at(0).cells[1].q_change_percent);
  EXPECT_NEAR(*found.rows[0].cells[0].q_change_percent, 0, 1e-9);
  EXPECT_NEAR(*found.rows[0].cells[1].q_change_percent, 100 * (after / before - 1), 1e-6);
}

}  // namespace
}  // namespace ohmtilt
