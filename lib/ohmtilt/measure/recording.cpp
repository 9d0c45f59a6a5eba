#include <ohmtilt/measure/decimator.h>
#include <ohmtilt/measure/level_meter.h>
#include <ohmtilt/measure/recording.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

constexpr long long block_frames = 1 << 15;

/// One channel on its way through as many halvings as it takes.
class Track {
 public:
  Track(double rate_hz, int count) : watch_(rate_hz), stages_(static_cast<std::size_t>(count)) {}

  void feed(const std::vector<float>& samples, std::vector<float>& out) {
    watch_.feed(samples);
    if (stages_.empty()) {
      out.insert(out.end(), samples.begin(), samples.end());
      return;
    }
    std::vector<float> current = samples;
    for (std::size_t i = 0; i + 1 < stages_.size(); ++i) {
      std::vector<float> next;
      stages_[i].feed(current, next);
      current = std::move(next);
    }
    stages_.back().feed(current, out);
  }
  ChannelLevel level() const { return watch_.level(); }

 private:
  LevelWatch watch_;
  std::vector<Halving> stages_;
};

void check(const std::string& name, const SampleFormat& format, const RecordingOptions& options) {
  const Place place{name};
  if (options.channels > 0 && format.channels != options.channels)
    throw InputError(
        place,
        "it has " + std::to_string(format.channels) + " channel" + (format.channels > 1 ? "s" : ""),
        options.channels == 2
            ? "record two: one across reference and earphone, one across one of them"
            : "give a file of " + std::to_string(options.channels));
  if (!(options.high_hz < 0.5 * format.rate_hz))
    throw InputError(place,
                     "a sample rate of " + number_text(format.rate_hz) + " Hz holds nothing at " +
                         number_text(options.high_hz) + " Hz",
                     "record at a higher rate, or ask for a band that ends lower");
  const double seconds = static_cast<double>(format.frames) / format.rate_hz;
  if (seconds > options.longest_seconds)
    throw InputError(place, "it lasts " + number_text(std::round(seconds)) + " s",
                     "give " + number_text(options.longest_seconds) + " s or less");
}

std::vector<float> channel(const std::vector<float>& block, int which, int channels) {
  std::vector<float> samples(block.size() / channels);
  for (std::size_t i = 0; i < samples.size(); ++i) samples[i] = block[i * channels + which];
  return samples;
}

std::vector<float> loudest(const std::vector<float>& block, int channels) {
  std::vector<float> sizes(block.size() / channels, 0.0f);
  for (std::size_t i = 0; i < block.size(); ++i)
    sizes[i / channels] = std::max(sizes[i / channels], std::abs(block[i]));
  return sizes;
}

}  // namespace

Recording recorded(const std::string& name, SampleReader& reader, const RecordingOptions& options) {
  const SampleFormat& format = reader.format();
  check(name, format, options);
  const int count = halvings(format.rate_hz, options.high_hz);
  Recording recording;
  recording.file = name;
  recording.file_rate_hz = format.rate_hz;
  recording.bits = format.bits;
  recording.floating = format.floating;
  recording.rate_hz = format.rate_hz / std::exp2(count);
  recording.channels.resize(static_cast<std::size_t>(format.channels));
  for (auto& samples : recording.channels)
    samples.reserve(static_cast<std::size_t>(format.frames >> count) + 64);
  std::vector<Track> tracks(recording.channels.size(), Track(format.rate_hz, count));
  DropoutWatch dropouts(format.rate_hz);
  long long frames = 0;
  std::vector<float> block;
  while (const long long came = reader.read(block, block_frames)) {
    frames += came;
    dropouts.feed(loudest(block, format.channels));
    for (int c = 0; c < format.channels; ++c)
      tracks[c].feed(channel(block, c, format.channels), recording.channels[c]);
    tell(options.progress, static_cast<double>(frames) / static_cast<double>(format.frames));
  }
  recording.seconds = static_cast<double>(frames) / format.rate_hz;
  for (const Track& track : tracks) recording.levels.push_back(track.level());
  recording.dropout_seconds = dropouts.seconds();
  return recording;
}

}  // namespace ohmtilt
