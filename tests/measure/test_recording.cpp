#include <gmock/gmock.h>
#include <ohmtilt/measure/decimator.h>
#include <ohmtilt/measure/findings.h>
#include <ohmtilt/measure/recording.h>
#include <ohmtilt/measure/wav.h>
#include <ohmtilt/text/error.h>
#include <tests/support.h>
#include <cmath>
#include <numbers>

namespace ohmtilt {
namespace {

using test::Scratch;

std::vector<float> sine(double hz, double rate_hz, std::size_t frames, double peak) {
  std::vector<float> samples(frames);
  for (std::size_t i = 0; i < frames; ++i)
    samples[i] = static_cast<float>(
        peak * std::sin(2 * std::numbers::pi * hz * static_cast<double>(i) / rate_hz));
  return samples;
}

WavContent stereo(const std::vector<float>& first, const std::vector<float>& second) {
  WavContent content{{}, 48000, 2};
  for (std::size_t i = 0; i < first.size(); ++i) {
    content.samples.push_back(first[i]);
    content.samples.push_back(second[i]);
  }
  return content;
}

std::vector<std::string> kinds(const WavContent& content, Expected expected = Expected::both) {
  const Scratch scratch;
  write_wav(scratch / "r.wav", content, false);
  std::vector<std::string> result;
  for (const auto& finding : recording_findings(read_recording(scratch / "r.wav"), expected))
    result.push_back(finding.kind);
  return result;
}

double rms_of_middle(const std::vector<float>& samples) {
  double sum = 0;
  const std::size_t n = samples.size() / 2, start = n / 2;
  for (std::size_t i = start; i < start + n; ++i)
    sum += static_cast<double>(samples[i]) * samples[i];
  return std::sqrt(sum / static_cast<double>(n));
}

TEST(Halving, PassesTheBandAndStopsWhatWouldFold) {
  const auto level_after = [](double hz) {
    Halving halving;
    std::vector<float> out;
    halving.feed(sine(hz, 96000, 96000, 1), out);
    return rms_of_middle(out) * std::numbers::sqrt2;
  };
  for (const double hz : {50.0, 1000.0, 15000.0, 20160.0})
    EXPECT_NEAR(level_after(hz), 1, 5e-4) << hz;
  for (const double hz : {27840.0, 35000.0, 47000.0}) EXPECT_LT(level_after(hz), 1e-4) << hz;
}

TEST(Halving, BlocksDoNotMatter) {
  const auto samples = sine(777, 96000, 5000, 1);
  Halving whole, parts;
  std::vector<float> a, b;
  whole.feed(samples, a);
  for (std::size_t i = 0; i < samples.size(); i += 7)
    parts.feed({samples.begin() + static_cast<long>(i),
                samples.begin() + static_cast<long>(std::min(i + 7, samples.size()))},
               b);
  EXPECT_EQ(a, b);
}

TEST(Halving, HowOften) {
  EXPECT_EQ(halvings(192000, 20000), 2);
  EXPECT_EQ(halvings(96000, 20000), 1);
  EXPECT_EQ(halvings(48000, 20000), 0);
  EXPECT_EQ(halvings(44100, 20000), 0);
}

TEST(Recording, LevelsOfASine) {
  const Scratch scratch;
  write_wav(scratch / "r.wav", stereo(sine(1000, 48000, 48000, 0.5), sine(1000, 48000, 48000, 0.1)),
            false);
  const Recording recording = read_recording(scratch / "r.wav");
  EXPECT_NEAR(recording.levels[0].peak, 0.5, 1e-6);
  EXPECT_NEAR(recording.levels[1].loudest_rms, 0.1 / std::numbers::sqrt2, 1e-6);
  EXPECT_EQ(recording.rate_hz, 48000);
  EXPECT_EQ(recording.seconds, 1);
}

TEST(Recording, RefusesTheWrongShape) {
  const Scratch scratch;
  write_wav(scratch / "mono.wav", {sine(1000, 48000, 4800, 0.5), 48000}, false);
  EXPECT_THROW(read_recording(scratch / "mono.wav"), InputError);
  write_wav(scratch / "slow.wav", {std::vector<float>(200, 0.1f), 32000, 2}, false);
  EXPECT_THROW(read_recording(scratch / "slow.wav"), InputError);  // 20 kHz needs more than 32 kHz
  write_wav(scratch / "long.wav", {std::vector<float>(8000 * 2 * 11, 0.1f), 8000, 2}, false);
  RecordingOptions options;
  options.high_hz = 3000;
  options.longest_seconds = 10;
  EXPECT_THROW(read_recording(scratch / "long.wav", options), InputError);
}

TEST(RecordingFindings, AGoodRecordingHasNone) {
  const auto good = sine(20, 48000, 48000, 0.3);
  EXPECT_TRUE(kinds(stereo(good, good)).empty());
}

TEST(RecordingFindings, Clipping) {
  auto clipped = sine(1000, 48000, 48000, 1.5);
  for (auto& x : clipped) x = std::min(1.0f, std::max(-1.0f, x));
  EXPECT_THAT(kinds(stereo(clipped, sine(1000, 48000, 48000, 0.3))),
              testing::ElementsAre("clipping"));
  // A sine that just reaches full scale at its crests is not clipped.
  const auto full = sine(5000, 48000, 48000, 0.9999);
  EXPECT_TRUE(kinds(stereo(full, full)).empty());
}

TEST(RecordingFindings, SilentAndLow) {
  const auto good = sine(1000, 48000, 48000, 0.3);
  const std::vector<float> nothing(48000, 0.0f);
  EXPECT_THAT(kinds(stereo(good, nothing)), testing::ElementsAre("silent"));
  EXPECT_TRUE(kinds(stereo(good, nothing), Expected::first_only).empty());
  EXPECT_THAT(kinds(stereo(good, sine(1000, 48000, 48000, 0.0003))),
              testing::ElementsAre("low-level"));
}

TEST(RecordingFindings, DropoutsButNotPauses) {
  auto sound = sine(1000, 48000, 48000, 0.3);
  for (std::size_t i = 20000; i < 20480; ++i) sound[i] = 0;  // a buffer of 10 ms
  EXPECT_THAT(kinds(stereo(sound, sound)), testing::ElementsAre("dropout"));
  auto paused = sine(1000, 48000, 96000, 0.3);
  for (std::size_t i = 20000; i < 44000; ++i) paused[i] = 0;
  EXPECT_TRUE(kinds(stereo(paused, paused)).empty());
}

TEST(RecordingFindings, ARefusalSaysWhetherOneSignalOnBothChannelsTellsMore) {
  for (const bool tells : {true, false}) {
    try {
      refuse_by({{"delay", "late; record again", true, tells}}, "a.wav");
      FAIL();
    } catch (const RefusedRecording& refused) {
      EXPECT_EQ(refused.same_tells, tells);
      EXPECT_STREQ(InputError(refused, " (so)").what(), "a.wav: late; record again (so)");
    }
  }
}

TEST(RecordingFindings, ARefusalNamesTheFile) {
  try {
    refuse_by(
        {{"mains", "hum; look", false}, {"silent", "channel 2 is silent; check the wiring", true}},
        "a.wav");
    FAIL();
  } catch (const InputError& error) {
    EXPECT_STREQ(error.what(), "a.wav: channel 2 is silent; check the wiring");
  }
}

}  // namespace
}  // namespace ohmtilt
