#pragma once
#include <filesystem>
#include <memory>
#include <string>
#include <vector>

namespace ohmtilt {

/// What a WAV file's header says.
struct WavFormat {
  double rate_hz;
  int channels;
  long long frames;
  int bits;       ///< 16, 24, 32 or 64 a sample
  bool floating;  ///< IEEE float instead of integers
};

/// A WAV file (also RF64 and WAVE-EX; 16, 24, 32-bit or float; one or two channels) read in
/// blocks, so that a long recording need not fit in memory.
class WavReader {
 public:
  /// Throws InputError when the file is missing, empty, no such WAV, shorter than its header says,
  /// or has a sample rate outside 8000 to 768000 Hz.
  explicit WavReader(const std::filesystem::path& file);
  ~WavReader();
  WavReader(const WavReader&) = delete;
  WavReader& operator=(const WavReader&) = delete;

  const WavFormat& format() const { return format_; }
  /// Fills block with up to frames frames, channels interleaved, full scale = 1, and returns how
  /// many came; 0 at the end. Throws InputError for samples that are not
  /// finite or over 1e9.
  long long read(std::vector<float>& block, long long frames);

 private:
  struct Handle;
  std::unique_ptr<Handle> handle_;
  std::filesystem::path file_;
  WavFormat format_{};
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
