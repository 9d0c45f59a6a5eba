#include <ohmtilt/measure/level_meter.h>
#include <algorithm>
#include <cmath>

namespace ohmtilt {

LevelWatch::LevelWatch(double rate_hz) : window_(static_cast<long long>(rate_hz / 10)) {}

void LevelWatch::end_of_window() {
  level_.loudest_rms =
      std::max(level_.loudest_rms, std::sqrt(energy_ / static_cast<double>(in_window_)));
  energy_ = 0;
  in_window_ = 0;
}

void LevelWatch::feed(const std::vector<float>& samples) {
  for (const float sample : samples) {
    const double size = std::abs(sample);
    level_.peak = std::max(level_.peak, size);
    clipped_ = size >= 0.999 ? clipped_ + 1 : 0;
    if (clipped_ == 3) ++level_.clipped_runs;
    energy_ += size * size;
    if (++in_window_ == window_) end_of_window();
  }
}

ChannelLevel LevelWatch::level() const {
  ChannelLevel level = level_;
  if (level.loudest_rms == 0 && in_window_ > 0)
    level.loudest_rms = std::sqrt(energy_ / static_cast<double>(in_window_));
  return level;
}

DropoutWatch::DropoutWatch(double rate_hz)
    : rate_hz_(rate_hz),
      shortest_(std::max(16.0, 0.0003 * rate_hz)),
      longest_(0.2 * rate_hz),
      decay_(std::exp(-1 / (0.05 * rate_hz))) {}

void DropoutWatch::end_of_silence(double next) {
  // A lost buffer cuts the sound off; where rounding makes zeros of a faint one, it goes and comes
  // by single steps.
  constexpr double cut = 0.05;
  const auto length = static_cast<double>(silent_);
  const bool is_cut = std::max(edge_, next) > cut * before_;
  if (length >= shortest_ && length <= longest_ && before_ > 1e-3 && is_cut) {
    start_ = frame_ - silent_;
    deadline_ = frame_ + static_cast<long long>(0.02 * rate_hz_);
  }
  silent_ = 0;
}

void DropoutWatch::feed(const std::vector<float>& loudest) {
  for (const float size : loudest) {
    if (size == 0) {
      if (silent_++ == 0) {
        before_ = recent_;
        edge_ = last_;
      }
    } else if (silent_ > 0) {
      end_of_silence(size);
    }
    last_ = size;
    if (start_ >= 0 && size > 0.1 * before_) {
      seconds_.push_back(static_cast<double>(start_) / rate_hz_);
      start_ = -1;
    } else if (frame_ > deadline_) {
      start_ = -1;
    }
    recent_ = std::max(static_cast<double>(size), recent_ * decay_);
    ++frame_;
  }
}

}  // namespace ohmtilt
