#pragma once
#include <vector>

#include <ohmtilt/measure/recording.h>

namespace ohmtilt {

/// Watches one channel go by, sample by sample.
class LevelWatch {
 public:
  explicit LevelWatch(double rate_hz);
  void feed(const std::vector<float>& samples);
  ChannelLevel level() const;

 private:
  void end_of_window();
  ChannelLevel level_;
  long long window_, in_window_ = 0;
  double energy_ = 0;
  int clipped_ = 0;
};

/// Finds the moments at which every channel is exactly zero for 0.3 to 200 ms between sound: what
/// a lost buffer looks like. A pause or the silence before and after is none.
class DropoutWatch {
 public:
  explicit DropoutWatch(double rate_hz);
  /// loudest[i] is the largest magnitude of all channels at one frame.
  void feed(const std::vector<float>& loudest);
  const std::vector<double>& seconds() const { return seconds_; }

 private:
  void end_of_silence(double next);
  double rate_hz_, shortest_, longest_, decay_;
  double before_ = 0, recent_ = 0, last_ = 0, edge_ = 0;
  long long frame_ = 0, silent_ = 0, start_ = -1, deadline_ = 0;
  std::vector<double> seconds_;
};

}  // namespace ohmtilt
