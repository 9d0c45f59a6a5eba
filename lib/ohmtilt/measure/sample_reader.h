#pragma once
#include <string>
#include <vector>

namespace ohmtilt {

/// What the samples are before any is read: what a WAV file's header says, or a sound card.
struct SampleFormat {
  double rate_hz;
  int channels;
  long long frames;
  int bits;       ///< 16, 24, 32 or 64 a sample
  bool floating;  ///< IEEE float instead of integers
};

/// Samples in blocks, so that a long recording need not fit in memory.
class SampleReader {
 public:
  virtual ~SampleReader() = default;
  virtual const SampleFormat& format() const = 0;
  /// Fills block with up to frames frames, channels interleaved, full scale = 1, and returns how
  /// many came; 0 at the end.
  virtual long long read(std::vector<float>& block, long long frames) = 0;
};

/// Samples that are in memory already: what a sound card recorded.
class HeldSamples : public SampleReader {
 public:
  /// Floats of one or two channels, interleaved; name stands in what is said of them.
  HeldSamples(std::string name, double rate_hz, int channels, std::vector<float> samples);
  const SampleFormat& format() const override { return format_; }
  /// Throws InputError as check_samples does.
  long long read(std::vector<float>& block, long long frames) override;

 private:
  std::string name_;
  SampleFormat format_;
  std::vector<float> samples_;
  long long at_ = 0;  ///< frames
};

/// Throws InputError for a block whose samples are not finite or over 1e9, named by its frame;
/// first_frame is the block's.
void check_samples(const std::vector<float>& block, int channels, long long first_frame,
                   const std::string& name);

}  // namespace ohmtilt
