// Any bytes as a WAV file: refused with an InputError, or read to as many finite samples as its
// header said, which the writer carries back bit for bit; and a recording made of it has finite
// levels.
#include <sys/mman.h>
#include <unistd.h>

#include <ohmtilt/measure/recording.h>
#include <ohmtilt/measure/wav.h>
#include <ohmtilt/text/error.h>
#include <cmath>
#include <cstdint>
#include <cstdlib>

namespace {

void require(bool holds) {
  if (!holds) std::abort();
}

/// Bytes under a file name, without a disk.
class FileInMemory {
 public:
  explicit FileInMemory(const std::string& bytes)
      : descriptor_(::memfd_create("fuzz", MFD_CLOEXEC)) {
    require(descriptor_ >= 0);
    require(::write(descriptor_, bytes.data(), bytes.size()) == static_cast<ssize_t>(bytes.size()));
  }
  ~FileInMemory() { ::close(descriptor_); }
  FileInMemory(const FileInMemory&) = delete;
  FileInMemory& operator=(const FileInMemory&) = delete;
  std::filesystem::path name() const { return "/proc/self/fd/" + std::to_string(descriptor_); }

 private:
  int descriptor_;
};

std::vector<float> all_samples(ohmtilt::WavReader& reader) {
  std::vector<float> samples;
  std::vector<float> block;
  while (reader.read(block, 1000) > 0) samples.insert(samples.end(), block.begin(), block.end());
  return samples;
}

void read_samples(const std::string& bytes) {
  const FileInMemory file(bytes);
  ohmtilt::WavReader reader(file.name());
  const ohmtilt::SampleFormat format = reader.format();
  const auto samples = all_samples(reader);
  require(static_cast<long long>(samples.size()) == format.frames * format.channels);
  for (const float sample : samples) require(std::isfinite(sample));
  const FileInMemory copy(
      ohmtilt::wav_bytes({samples, static_cast<int>(format.rate_hz), format.channels, true}));
  ohmtilt::WavReader again(copy.name());
  require(again.format().rate_hz == format.rate_hz);
  require(all_samples(again) == samples);
}

void read_levels(const std::string& bytes) {
  const FileInMemory file(bytes);
  ohmtilt::RecordingOptions options;
  options.channels = 0;
  options.high_hz = 3000;
  const auto recording = ohmtilt::read_recording(file.name(), options);
  for (const auto& level : recording.levels)
    require(std::isfinite(level.peak) && std::isfinite(level.loudest_rms));
  for (const auto& channel : recording.channels)
    for (const float sample : channel) require(std::isfinite(sample));
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string bytes(reinterpret_cast<const char*>(data), size);
  for (const auto read : {read_samples, read_levels}) {
    try {
      read(bytes);
    } catch (const ohmtilt::InputError&) {
    }
  }
  return 0;
}
