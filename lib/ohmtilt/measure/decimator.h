#pragma once
#include <vector>

namespace ohmtilt {

/// Halves the sample rate of a stream that comes in blocks: a half-band low-pass (Kaiser window,
/// 95 dB) followed by every second sample. Up to passed_share of the old rate passes; what aliases
/// lies above. Its delay is the same for every channel, so that a ratio of two channels keeps its
/// value.
class Halving {
 public:
  static constexpr double passed_share = 0.21;  ///< of the rate before; 20.16 kHz of 96 kHz

  Halving();
  /// The halved samples that block completes, appended to out.
  void feed(const std::vector<float>& block, std::vector<float>& out);

 private:
  std::vector<float> taps_;     ///< one half of the odd taps, from the middle outwards
  std::vector<float> waiting_;  ///< samples not yet used up
};

/// How often a rate may be halved so that frequencies up to high_hz still pass.
int halvings(double rate_hz, double high_hz);

}  // namespace ohmtilt
