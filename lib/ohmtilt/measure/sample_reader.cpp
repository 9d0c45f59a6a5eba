#include <ohmtilt/measure/sample_reader.h>
#include <ohmtilt/text/error.h>
#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

/// No recording is so loud; squares of larger values would leave the range of float.
constexpr float largest_sample = 1e9f;

}  // namespace

HeldSamples::HeldSamples(std::string name, double rate_hz, int channels, std::vector<float> samples)
    : name_(std::move(name)),
      format_{rate_hz, channels, static_cast<long long>(samples.size()) / channels, 32, true},
      samples_(std::move(samples)) {}

long long HeldSamples::read(std::vector<float>& block, long long frames) {
  const long long count = std::min(frames, format_.frames - at_);
  const auto start = samples_.begin() + at_ * format_.channels;
  block.assign(start, start + count * format_.channels);
  check_samples(block, format_.channels, at_, name_);
  at_ += count;
  return count;
}

void check_samples(const std::vector<float>& block, int channels, long long first_frame,
                   const std::string& name) {
  for (std::size_t i = 0; i < block.size(); ++i)
    if (!(std::abs(block[i]) <= largest_sample))
      throw InputError(
          Place{name},
          "the sample at frame " +
              std::to_string(first_frame + static_cast<long long>(i) / channels) +
              (std::isfinite(block[i]) ? " is over 1e9 times full scale" : " is not a number"),
          "record again");
}

}  // namespace ohmtilt
