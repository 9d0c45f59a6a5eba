#include <sndfile.h>

#include <ohmtilt/measure/wav.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/inputs_read.h>
#include <ohmtilt/text/output_file.h>
#include <ohmtilt/text/text.h>
#include <array>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <fstream>
#include <mutex>

namespace ohmtilt {
namespace {

const char* const wanted = "give a PCM or float WAV of one or two channels";

/// Bits a sample of the forms that are read, 0 for all others.
int bits_of(int format) {
  switch (format & SF_FORMAT_SUBMASK) {
    case SF_FORMAT_PCM_16:
      return 16;
    case SF_FORMAT_PCM_24:
      return 24;
    case SF_FORMAT_PCM_32:
    case SF_FORMAT_FLOAT:
      return 32;
    case SF_FORMAT_DOUBLE:
      return 64;
    default:
      return 0;
  }
}

bool is_wav(int format) {
  const int kind = format & SF_FORMAT_TYPEMASK;
  return kind == SF_FORMAT_WAV || kind == SF_FORMAT_WAVEX || kind == SF_FORMAT_RF64;
}

/// A header that promises more bytes than the file has. Sizes of 0 and of all ones are what
/// recorders write before they know.
void check_length(const std::filesystem::path& file) {
  std::error_code failed;
  const auto bytes = std::filesystem::file_size(file, failed);
  std::array<unsigned char, 8> head{};
  std::ifstream stream(file, std::ios::binary);
  stream.read(reinterpret_cast<char*>(head.data()), head.size());
  if (failed || !stream || head[0] != 'R' || head[1] != 'I') return;
  const std::uint32_t promised =
      head[4] | head[5] << 8 | head[6] << 16 | static_cast<std::uint32_t>(head[7]) << 24;
  if (promised != 0xffffffffu && promised + std::uint64_t{8} > bytes + std::uint64_t{1})
    throw InputError(Place{file.string()},
                     "the file ends after " + std::to_string(bytes) +
                         " bytes, but its header says " +
                         std::to_string(promised + std::uint64_t{8}),
                     "copy it again, or record again");
}

/// A number of so many bytes at a place of a file; 0 beyond its end.
std::uint64_t number_at(std::ifstream& stream, std::uint64_t at, int bytes, bool big_endian) {
  std::array<unsigned char, 4> raw{};
  stream.clear();
  stream.seekg(static_cast<std::streamoff>(at));
  stream.read(reinterpret_cast<char*>(raw.data()), bytes);
  std::uint64_t value = 0;
  for (int i = 0; i < bytes; ++i) value = value << 8 | raw[big_endian ? i : bytes - 1 - i];
  return stream ? value : 0;
}

/// How the chunk "fmt " says that samples are coded; 0 where there is none.
std::uint64_t coding_of(std::ifstream& stream, bool big_endian) {
  constexpr std::uint64_t format = 0x666d7420, extensible = 0xfffe;  // "fmt "
  constexpr int most_chunks = 1000;
  std::uint64_t at = 12;
  for (int chunk = 0; chunk < most_chunks; ++chunk) {
    const std::uint64_t name = number_at(stream, at, 4, true);
    if (name == 0) return 0;
    const std::uint64_t size = number_at(stream, at + 4, 4, big_endian);
    if (name == format) {
      const std::uint64_t coding = number_at(stream, at + 8, 2, big_endian);
      return coding == extensible ? number_at(stream, at + 32, 2, big_endian) : coding;
    }
    at += 8 + size + size % 2;
  }
  return 0;
}

/// Other kinds go no further, nor does what is coded otherwise within a WAV: libsndfile's decoders
/// of some print lines of their own.
void check_kind(const std::filesystem::path& file) {
  constexpr std::uint64_t integers = 1, floats = 3;
  std::array<char, 4> head{};
  std::ifstream stream(file, std::ios::binary);
  stream.read(head.data(), head.size());
  const std::string kind(head.data(), head.size());
  if (kind != "RIFF" && kind != "RIFX" && kind != "RF64")
    throw InputError(Place{file.string()}, "it cannot be read as a WAV file", wanted);
  const std::uint64_t coding = coding_of(stream, kind == "RIFX");
  if (coding != integers && coding != floats)
    throw InputError(Place{file.string()}, "it is not a WAV of integers or floats", wanted);
}

void check_format(const std::filesystem::path& file, const SF_INFO& info) {
  if (!is_wav(info.format) || bits_of(info.format) == 0)
    throw InputError(Place{file.string()},
                     "it is not a WAV of 16, 24 or 32-bit integers or of floats", wanted);
  if (info.channels < 1 || info.channels > 2)
    throw InputError(Place{file.string()}, "it has " + std::to_string(info.channels) + " channels",
                     wanted);
  if (info.samplerate < 8000 || info.samplerate > 768000)
    throw InputError(Place{file.string()},
                     "its sample rate is " + std::to_string(info.samplerate) + " Hz",
                     "record at 44100 to 192000 Hz");
  if (info.frames < 1)
    throw InputError(Place{file.string()}, "it holds no samples", "record again");
}

/// A file in memory, as libsndfile writes it: it goes back to the header at the end.
struct Memory {
  std::string bytes;
  sf_count_t at = 0;
};

sf_count_t memory_length(void* user) {
  return static_cast<sf_count_t>(static_cast<Memory*>(user)->bytes.size());
}

sf_count_t memory_seek(sf_count_t offset, int whence, void* user) {
  auto& memory = *static_cast<Memory*>(user);
  const sf_count_t base = whence == SEEK_SET   ? 0
                          : whence == SEEK_CUR ? memory.at
                                               : memory_length(user);
  return memory.at = base + offset;
}

sf_count_t memory_write(const void* data, sf_count_t count, void* user) {
  auto& memory = *static_cast<Memory*>(user);
  const auto at = static_cast<std::size_t>(memory.at);
  const auto size = static_cast<std::size_t>(count);
  if (memory.bytes.size() < at + size) memory.bytes.resize(at + size);
  memory.bytes.replace(at, size, static_cast<const char*>(data), size);
  memory.at += count;
  return count;
}

sf_count_t memory_read(void*, sf_count_t, void*) { return 0; }
sf_count_t memory_tell(void* user) { return static_cast<Memory*>(user)->at; }

SF_VIRTUAL_IO memory_io() {
  return {memory_length, memory_seek, memory_read, memory_write, memory_tell};
}

}  // namespace

struct WavReader::Handle {
  SNDFILE* file = nullptr;
  ~Handle() {
    if (file) sf_close(file);
  }
};

namespace {

/// libsndfile writes into a log of its own, one for all threads, when it cannot open a file.
SNDFILE* opened(const std::filesystem::path& file, SF_INFO& info) {
  static std::mutex one_at_a_time;
  const std::lock_guard guard(one_at_a_time);
  return sf_open(file.c_str(), SFM_READ, &info);
}

}  // namespace

WavReader::WavReader(const std::filesystem::path& file)
    : handle_(std::make_unique<Handle>()), file_(file) {
  std::error_code failed;
  if (!std::filesystem::exists(file, failed))
    throw InputError(Place{file.string()}, "there is no such file", "check the name");
  if (!std::filesystem::is_regular_file(file, failed))
    throw InputError(Place{file.string()}, "it is not a file", wanted);
  check_kind(file);
  SF_INFO info{};
  handle_->file = opened(file, info);
  if (!handle_->file)
    throw InputError(Place{file.string()}, "it cannot be read as a WAV file", wanted);
  remember_input(file);
  check_format(file, info);
  check_length(file);
  const int sub = info.format & SF_FORMAT_SUBMASK;
  format_ = {static_cast<double>(info.samplerate), info.channels, info.frames, bits_of(info.format),
             sub == SF_FORMAT_FLOAT || sub == SF_FORMAT_DOUBLE};
}

WavReader::~WavReader() = default;

long long WavReader::read(std::vector<float>& block, long long frames) {
  block.resize(static_cast<std::size_t>(frames * format_.channels));
  const sf_count_t came = sf_readf_float(handle_->file, block.data(), frames);
  block.resize(static_cast<std::size_t>(came * format_.channels));
  if (format_.floating) check_samples(block, format_.channels, position_, file_.string());
  position_ += came;
  return came;
}

std::string wav_bytes(const WavContent& content) {
  Memory memory;
  SF_VIRTUAL_IO io = memory_io();
  SF_INFO info{};
  info.samplerate = content.rate_hz;
  info.channels = content.channels;
  info.format = SF_FORMAT_WAV | (content.floating ? SF_FORMAT_FLOAT : SF_FORMAT_PCM_24);
  SNDFILE* const sound = sf_open_virtual(&io, SFM_WRITE, &info, &memory);
  if (!sound)
    throw InputError("a WAV of " + std::to_string(content.channels) + " channels at " +
                         std::to_string(content.rate_hz) + " Hz cannot be made",
                     "give one or two channels and a common sample rate");
  // The peak chunk of float files carries the time of day.
  sf_command(sound, SFC_SET_ADD_PEAK_CHUNK, nullptr, SF_FALSE);
  sf_command(sound, SFC_SET_CLIPPING, nullptr, SF_TRUE);
  const auto frames = static_cast<sf_count_t>(content.samples.size()) / content.channels;
  sf_writef_float(sound, content.samples.data(), frames);
  sf_close(sound);
  return std::move(memory.bytes);
}

void write_wav(const std::filesystem::path& file, const WavContent& content, bool replace) {
  write_file(file, wav_bytes(content), replace);
}

}  // namespace ohmtilt
