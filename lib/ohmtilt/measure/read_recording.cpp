#include <ohmtilt/measure/recording.h>
#include <ohmtilt/measure/wav.h>

namespace ohmtilt {

// Apart from what takes the samples, so that this can be compiled where there is no libsndfile.
Recording read_recording(const std::filesystem::path& file, const RecordingOptions& options) {
  WavReader reader(file);
  return recorded(file.string(), reader, options);
}

}  // namespace ohmtilt
