#pragma once
#include <array>
#include <vector>

#include <ohmtilt/analysis/tolerance.h>
#include <ohmtilt/design/pad_site.h>

namespace ohmtilt {

/// What the resistors' tolerance does to the attenuation, over random draws.
struct PadSpread {
  double attenuation_p95_db = 0;         ///< 95 % of |attenuation less its nominal value|
  double channel_difference_p95_db = 0;  ///< 95 % of |difference of two independent pads|
};

/// Random resistors, the same draws for every pad, so that pads differ by what they are alone.
class PadDraws {
 public:
  /// Channels are compared in samples / 2 pairs. Throws InputError for samples out of bounds.
  explicit PadDraws(const ToleranceOptions& options);
  /// Each resistor lies within pad.tolerance_percent on its own, both legs of an H or O too.
  PadSpread spread(const PadSite& site, const Pad& pad) const;

 private:
  static constexpr std::size_t most_resistors = 5;
  void vary_block(const Pad& pad, std::size_t index, TwoPortBlock& result) const;

  std::size_t count_;
  /// -1 to 1, of each resistor; zeros behind the last draw: at least one pad is as its values say.
  std::array<std::vector<TwoPortBlock::Numbers>, most_resistors> deviates_;
};

}  // namespace ohmtilt
