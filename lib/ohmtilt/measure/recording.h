#pragma once
#include <filesystem>
#include <functional>
#include <string>
#include <vector>

#include <ohmtilt/measure/progress.h>
#include <ohmtilt/measure/sample_reader.h>

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

/// Takes a recording block by block: levels at its own rate, samples at the reduced one. name
/// stands in what is said of it. Throws InputError as the reader does, and for another number of
/// channels, a rate too low for high_hz, or a recording longer than longest_seconds.
Recording recorded(const std::string& name, SampleReader& reader, const RecordingOptions& options);

/// The recording of that name, for instance of a file.
using ReadRecording =
    std::function<Recording(const std::filesystem::path&, const RecordingOptions&)>;

/// The same of a WAV file. Throws InputError as WavReader does, too.
Recording read_recording(const std::filesystem::path& file, const RecordingOptions& options = {});

}  // namespace ohmtilt
