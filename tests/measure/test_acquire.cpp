// From files to a curve: a divider of two equal resistors, so that Z is the reference at every
// frequency; and what is told on the way.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <ohmtilt/measure/acquire.h>
#include <ohmtilt/measure/stimulus.h>
#include <ohmtilt/measure/wav.h>
#include <ohmtilt/text/error.h>
#include <algorithm>

#include "tests/support.h"

namespace ohmtilt {
namespace {

std::vector<float> sound(StimulusKind kind) {
  StimulusOptions o;
  o.kind = kind;
  o.seconds = kind == StimulusKind::sweep ? 2 : 9;
  o.level_dbfs = -6;
  return stimulus_samples(o);
}

/// Writes stimulus.wav and take.wav, whose second channel has half of the first.
AcquireFiles halved_take(const test::Scratch& scratch, StimulusKind kind) {
  const auto samples = sound(kind);
  write_wav(scratch / "stimulus.wav", {samples, 48000}, false);
  WavContent take{{}, 48000, 2};
  for (const float x : samples) take.samples.insert(take.samples.end(), {x, x / 2});
  write_wav(scratch / "take.wav", take, false);
  AcquireFiles files;
  files.recording = scratch / "take.wav";
  files.stimulus = scratch / "stimulus.wav";
  return files;
}

TEST(Acquire, AHalfIsTheReference) {
  for (const auto kind : {StimulusKind::sweep, StimulusKind::multitone, StimulusKind::noise}) {
    const test::Scratch scratch;
    AcquireOptions options;
    options.impedance.reference_ohm = 22;
    options.transfer.per_octave = 12;
    const Acquired acquired = acquire_impedance(halved_take(scratch, kind), options);
    EXPECT_LT((acquired.curve.magnitude_ohm() / 22 - 1).abs().maxCoeff(), 1e-3);
    EXPECT_LT(acquired.curve.phase_deg().abs().maxCoeff(), 0.1);
  }
}

// What a page in a browser hands over: no file, the same bits.
TEST(Acquire, SamplesInMemoryGiveTheBitsOfFiles) {
  for (const auto kind : {StimulusKind::sweep, StimulusKind::multitone}) {
    const test::Scratch scratch;
    const AcquireFiles files = halved_take(scratch, kind);
    AcquireOptions options;
    options.impedance.reference_ohm = 22;
    const auto held = [](const std::filesystem::path& file, const RecordingOptions& how) {
      WavReader reader(file);
      std::vector<float> samples;
      const SampleFormat format = reader.format();
      reader.read(samples, format.frames);
      HeldSamples memory(file.string(), format.rate_hz, format.channels, samples);
      return recorded(file.string(), memory, how);
    };
    const Acquired of_files = acquire_impedance(files, options);
    const Acquired of_memory = acquire_impedance(files, options, held);
    EXPECT_TRUE((of_files.curve.magnitude_ohm() == of_memory.curve.magnitude_ohm()).all());
    EXPECT_TRUE((of_files.curve.phase_deg() == of_memory.curve.phase_deg()).all());
    EXPECT_TRUE((of_files.coherence == of_memory.coherence).all());
    ASSERT_EQ(of_files.findings.size(), of_memory.findings.size());
  }
}

TEST(Acquire, TellsRisingProgressUpToAll) {
  const test::Scratch scratch;
  AcquireFiles files = halved_take(scratch, StimulusKind::sweep);
  files.same = files.recording;
  std::vector<double> told;
  AcquireOptions options;
  options.impedance.reference_ohm = 22;
  options.progress = [&](double done) { told.push_back(done); };
  try {
    acquire_impedance(files, options);  // what it makes of such a calibration does not matter here
  } catch (const InputError&) {
  }
  ASSERT_GT(told.size(), 4u);
  EXPECT_TRUE(std::is_sorted(told.begin(), told.end()));
  EXPECT_GT(told.front(), 0);
  EXPECT_NEAR(told.back(), 1, 1e-12);
}

// Both files are read at once, but which failure is told does not depend on which came first.
TEST(Acquire, TellsOfTheStimulusFirst) {
  const test::Scratch scratch;
  AcquireFiles files;
  files.stimulus = scratch.write("stimulus.wav", "no");
  files.recording = scratch.write("take.wav", "no");
  AcquireOptions options;
  options.impedance.reference_ohm = 22;
  for (int i = 0; i < 20; ++i) {
    try {
      acquire_impedance(files, options);
      ADD_FAILURE();
    } catch (const InputError& error) {
      EXPECT_THAT(error.what(), testing::HasSubstr("stimulus.wav"));
    }
  }
}

}  // namespace
}  // namespace ohmtilt
