#pragma once
#include <filesystem>
#include <string>
#include <vector>

#include <ohmtilt/measure/progress.h>

namespace ohmtilt {

/// Levels of one channel; full scale = 1.
struct ChannelLevel {
  double peak = 0;
  double loudest_rms = 0;      ///< of the loudest tenth of a second
  long long clipped_runs = 0;  ///< runs of three samples or more within 0.1 % of full scale
};

/// A recording brought to the lowest rate that still holds the band asked for.
struct Recording {
  std::string file;
  double file_rate_hz = 0;
  int bits = 0;
  bool floating = false;
  double seconds = 0;
  double rate_hz = 0;                        ///< of the samples below
  std::vector<std::vector<float>> channels;  ///< one or two, equally long
  std::vector<ChannelLevel> levels;          ///< one a channel, at the file's rate
  std::vector<double> dropout_seconds;       ///< where all channels fell silent for a moment
};

struct RecordingOptions {
  double high_hz = 20000;  ///< frequencies up to here must survive
  int channels = 2;        ///< how many the file must have; 0: as many as it has
  double longest_seconds = 600;
  Progress progress = {};
};

/// Reads a recording block by block: levels at the file's own rate, samples at the reduced one.
/// Throws InputError as WavReader does, and for another number of channels, a rate too low for
/// high_hz, or a recording longer than longest_seconds.
Recording read_recording(const std::filesystem::path& file, const RecordingOptions& options = {});

}  // namespace ohmtilt
