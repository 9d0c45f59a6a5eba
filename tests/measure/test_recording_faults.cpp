// Synthetic recordings with one fault each: named by its cause, or covered by what is stated.
// tests/bench/bench_recordings.cpp takes more of them.
#include <gtest/gtest.h>

#include "tests/measure/synthetic_recording.h"

namespace ohmtilt::test {
namespace {

std::string listed_kinds(const SyntheticBench::Outcome& outcome) {
  std::string text = outcome.refusal;
  for (const std::string& kind : outcome.kinds) text += " " + kind;
  return text;
}

/// Findings that a clean recording may have: hum, where the generator put some.
bool is_false(const std::string& kind) { return kind != "mains" && kind != "reference-small"; }

// 304: a capacitor across the earphone delays the level of a source of 8.5 ohm by 65 microseconds
// below 250 Hz, which is neither lost samples nor a clock.
TEST(RecordingFaults, ACleanRecordingHasNone) {
  for (const unsigned seed : {0u, 1u, 2u, 3u, 304u}) {
    SyntheticBench bench(seed, {StimulusKind::sweep, 3});
    const auto outcome = bench.acquired({"none", {}});
    EXPECT_EQ(outcome.refusal, "");
    EXPECT_EQ(std::count_if(outcome.kinds.begin(), outcome.kinds.end(), is_false), 0)
        << listed_kinds(outcome);
    EXPECT_GE(outcome.inside, 0.95) << seed;
    EXPECT_LT(outcome.error, 0.01) << seed;
  }
}

// Periodic and averaged sounds hold every frequency in both halves.
TEST(RecordingFaults, HalvesTellAGainThatDrifts) {
  const Fault drifting =
      unseen("drift", {"halves"}, [](Stereo& p, std::mt19937_64&) { drift_gain(p.second, 1.122); });
  for (const Measuring& how :
       {Measuring{StimulusKind::multitone, 9}, Measuring{StimulusKind::noise, 9},
        Measuring{StimulusKind::noise, 9, false}}) {
    const auto clean = SyntheticBench(7, how).acquired({"none", {}});
    EXPECT_EQ(std::count_if(clean.kinds.begin(), clean.kinds.end(), is_false), 0)
        << listed_kinds(clean);
    EXPECT_GE(clean.inside, 0.93);
    const auto outcome = SyntheticBench(7, how).acquired(drifting);
    EXPECT_TRUE(names(outcome, drifting)) << listed_kinds(outcome);
    EXPECT_GE(outcome.inside, 0.93);
  }
}

class RecordingFault : public testing::TestWithParam<std::size_t> {};
INSTANTIATE_TEST_SUITE_P(Each, RecordingFault,
                         testing::Range<std::size_t>(0, recording_faults().size()));

TEST_P(RecordingFault, IsNamed) {
  const Fault fault = recording_faults()[GetParam()];
  if (!fault.always_seen) GTEST_SKIP() << fault.name << " is not always to be seen";
  SyntheticBench bench(static_cast<unsigned>(GetParam()) + 100, {StimulusKind::sweep, 3});
  const auto outcome = bench.acquired(fault);
  EXPECT_TRUE(names(outcome, fault)) << fault.name << ":" << listed_kinds(outcome);
}

}  // namespace
}  // namespace ohmtilt::test
