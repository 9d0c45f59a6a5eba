#pragma once
#include <filesystem>
#include <memory>
#include <string>
#include <vector>

#include <ohmtilt/measure/sample_reader.h>

namespace ohmtilt {

/// A WAV file (also RF64 and WAVE-EX; 16, 24, 32-bit or float; one or two channels) read in
/// blocks, so that a long recording need not fit in memory.
class WavReader : public SampleReader {
 public:
  /// Throws InputError when the file is missing, empty, no such WAV, shorter than its header says,
  /// or has a sample rate outside 8000 to 768000 Hz.
  explicit WavReader(const std::filesystem::path& file);
  ~WavReader() override;
  WavReader(const WavReader&) = delete;
  WavReader& operator=(const WavReader&) = delete;

  const SampleFormat& format() const override { return format_; }
  /// Throws InputError as check_samples does.
  long long read(std::vector<float>& block, long long frames) override;

 private:
  struct Handle;
  std::unique_ptr<Handle> handle_;
  std::filesystem::path file_;
  SampleFormat format_{};
  long long position_ = 0;
};

/// Samples to be written: channels interleaved, full scale = 1.
struct WavContent {
  std::vector<float> samples;
  int rate_hz;
  int channels = 1;
  bool floating = false;  ///< 32-bit float; else 24-bit integers
};

/// The bytes of a WAV file; the same content gives the same bytes. Throws InputError for a shape
/// that WAV does not know.
std::string wav_bytes(const WavContent& content);

/// Writes a WAV file that appears whole or not at all.
/// Throws OutputError as OutputFile does.
void write_wav(const std::filesystem::path& file, const WavContent& content, bool replace);

}  // namespace ohmtilt
