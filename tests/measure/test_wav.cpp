#include <sndfile.h>

#include <ohmtilt/measure/recording.h>
#include <ohmtilt/measure/wav.h>
#include <ohmtilt/text/error.h>
#include <tests/support.h>
#include <cmath>
#include <limits>

namespace ohmtilt {
namespace {

using test::Scratch;

std::vector<float> some_samples() {
  std::vector<float> samples;
  for (int i = 0; i < 3000; ++i) samples.push_back(0.5f * std::sin(0.01f * static_cast<float>(i)));
  return samples;
}

TEST(Wav, IntegersAndFloatsComeBack) {
  const Scratch scratch;
  const auto samples = some_samples();
  for (const bool floating : {false, true}) {
    const auto file = scratch / (floating ? "float.wav" : "integer.wav");
    write_wav(file, {samples, 44100, 2, floating}, false);
    WavReader reader(file);
    EXPECT_EQ(reader.format().rate_hz, 44100);
    EXPECT_EQ(reader.format().channels, 2);
    EXPECT_EQ(reader.format().frames, 1500);
    EXPECT_EQ(reader.format().bits, floating ? 32 : 24);
    std::vector<float> all, block;
    while (reader.read(block, 400) > 0) all.insert(all.end(), block.begin(), block.end());
    ASSERT_EQ(all.size(), samples.size());
    for (std::size_t i = 0; i < all.size(); ++i)
      EXPECT_NEAR(all[i], samples[i], floating ? 0 : 1.0 / (1 << 23));
  }
}

TEST(Wav, TheSameContentGivesTheSameBytes) {
  const Scratch scratch;
  write_wav(scratch / "a.wav", {some_samples(), 48000, 1, true}, false);
  write_wav(scratch / "b.wav", {some_samples(), 48000, 1, true}, false);
  EXPECT_EQ(test::contents(scratch / "a.wav"), test::contents(scratch / "b.wav"));
}

TEST(Wav, AnExistingFileStaysWithoutForce) {
  const Scratch scratch;
  const auto file = scratch.write("a.wav", "mine");
  EXPECT_THROW(write_wav(file, {some_samples(), 48000}, false), OutputError);
  EXPECT_EQ(test::contents(file), "mine");
  write_wav(file, {some_samples(), 48000}, true);
  EXPECT_EQ(WavReader(file).format().frames, 3000);
}

TEST(Wav, RefusesWhatIsNoSuchFile) {
  const Scratch scratch;
  write_wav(scratch / "good.wav", {some_samples(), 48000}, false);
  const std::string good = test::contents(scratch / "good.wav");
  EXPECT_THROW(WavReader(scratch / "missing.wav"), InputError);
  EXPECT_THROW(WavReader(scratch.folder()), InputError);
  EXPECT_THROW(WavReader(scratch.write("empty.wav", "")), InputError);
  EXPECT_THROW(WavReader(scratch.write("text.wav", "frequency_hz,magnitude_ohm\n20,5\n")),
               InputError);
  EXPECT_THROW(WavReader(scratch.write("cut.wav", good.substr(0, 2000))), InputError);
  EXPECT_THROW(WavReader(scratch.write("head.wav", good.substr(0, 44))), InputError);
  std::string zeros = good;
  for (std::size_t i = 20; i < 44; ++i) zeros[i] = 0;
  EXPECT_THROW(WavReader(scratch.write("zeros.wav", zeros)), InputError);
  write_wav(scratch / "three.wav", {some_samples(), 48000, 3}, false);
  EXPECT_THROW(WavReader(scratch / "three.wav"), InputError);
}

/// Frames of MPEG layer III as libsndfile makes them of a tone; empty where it cannot.
std::string mpeg_frames(const Scratch& scratch) {
  SF_INFO info{};
  info.samplerate = 44100;
  info.channels = 1;
  info.format = SF_FORMAT_MPEG | SF_FORMAT_MPEG_LAYER_III;
  const auto file = scratch / "frames.mp3";
  SNDFILE* const sound = sf_open(file.c_str(), SFM_WRITE, &info);
  if (!sound) return {};
  for (int i = 0; i < 20; ++i) {
    const auto samples = some_samples();
    sf_writef_float(sound, samples.data(), static_cast<sf_count_t>(samples.size()));
  }
  sf_close(sound);
  return test::contents(file);
}

std::string little(std::size_t value, int bytes) {
  std::string text;
  for (int i = 0; i < bytes; ++i) text += static_cast<char>(value >> (8 * i) & 0xff);
  return text;
}

/// The same as a WAV whose header says MPEG layer III (0x55), after another chunk.
std::string mpeg_in_wav(const std::string& frames) {
  const std::string format = little(0x55, 2) + little(1, 2) + little(44100, 4) + little(16000, 4) +
                             little(1, 2) + little(0, 2) + little(12, 2) + little(1, 2) +
                             little(2, 4) + little(417, 2) + little(1, 2) + little(1393, 2);
  const std::string body = "WAVE" + ("LIST" + little(5, 4)) + "INFO." + little(0, 1) + "fmt " +
                           little(format.size(), 4) + format + "fact" + little(4, 4) +
                           little(60000, 4) + "data" + little(frames.size(), 4) + frames;
  return "RIFF" + little(body.size(), 4) + body;
}

// The decoder of another library prints its own lines to standard error for what it does not like.
TEST(Wav, MpegWithinAWavIsRefusedInOneVoice) {
  const Scratch scratch;
  const std::string frames = mpeg_frames(scratch);
  if (frames.empty()) GTEST_SKIP() << "this libsndfile cannot encode MPEG";
  std::string broken = frames;
  for (std::size_t i = 100; i < broken.size(); i += 7) broken[i] = static_cast<char>(i * 31);
  int named = 0;
  for (const std::string& data : {frames, broken, std::string(3000, 'x'), frames.substr(0, 300)}) {
    const auto file = scratch.write("mpeg" + std::to_string(named++) + ".wav", mpeg_in_wav(data));
    testing::internal::CaptureStderr();
    EXPECT_THROW(WavReader{file}, InputError);
    EXPECT_EQ(testing::internal::GetCapturedStderr(), "");
  }
}

// Every single byte of a header made wrong: either refused in words or read, never worse.
TEST(Wav, SurvivesAnyBrokenHeader) {
  const Scratch scratch;
  write_wav(scratch / "good.wav", {some_samples(), 48000}, false);
  const std::string good = test::contents(scratch / "good.wav");
  for (std::size_t i = 0; i < 64; ++i)
    for (const int byte : {0x00, 0x7f, 0xff}) {
      std::string bad = good;
      bad[i] = static_cast<char>(byte);
      const auto file = scratch.write("bad.wav", bad);
      try {
        RecordingOptions any;
        any.channels = 0;
        any.high_hz = 1000;
        read_recording(file, any);
      } catch (const InputError&) {
      }
    }
}

TEST(Wav, RefusesSamplesThatAreNotNumbers) {
  const Scratch scratch;
  auto samples = some_samples();
  samples[1234] = std::numeric_limits<float>::quiet_NaN();
  write_wav(scratch / "nan.wav", {samples, 48000, 1, true}, false);
  WavReader reader(scratch / "nan.wav");
  std::vector<float> block;
  EXPECT_THROW(reader.read(block, 3000), InputError);
}

// Found by fuzzing: squares of huge floats left the range of float, and levels became infinite.
TEST(Wav, RefusesSamplesFarAboveFullScale) {
  const Scratch scratch;
  auto samples = some_samples();
  samples[700] = -3e30f;
  write_wav(scratch / "loud.wav", {samples, 48000, 1, true}, false);
  EXPECT_THROW(read_recording(scratch / "loud.wav", {.channels = 1}), InputError);
  samples[700] = -9e8f;
  write_wav(scratch / "loud.wav", {samples, 48000, 1, true}, true);
  const auto recording = read_recording(scratch / "loud.wav", {.channels = 1});
  EXPECT_TRUE(std::isfinite(recording.levels[0].loudest_rms));
}

}  // namespace
}  // namespace ohmtilt
