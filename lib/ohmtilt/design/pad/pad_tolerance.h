#pragma once
#include <functional>
#include <vector>

#include <ohmtilt/analysis/tolerance/tolerance.h>
#include <ohmtilt/design/insertion/insertion_point.h>

namespace ohmtilt {

/// What the resistors' tolerance does to the attenuation, over random draws.
struct PadSpread {
  double attenuation_p95_db = 0;         ///< 95 % of |attenuation less its nominal value|
  double channel_difference_p95_db = 0;  ///< 95 % of |difference of two independent pads|
};

/// Random deviates of some resistors in blocks of TwoPortBlock::size draws.
class ResistorDraws {
 public:
  /// Throws InputError for samples out of bounds.
  ResistorDraws(const ToleranceOptions& options, std::size_t resistors);
  std::size_t count() const { return count_; }
  std::size_t blocks() const { return deviates_.at(0).size(); }
  /// -1 to 1; zeros behind the last draw, of which there is at least one.
  const TwoPortBlock::Numbers& deviates(std::size_t resistor, std::size_t block) const {
    return deviates_[resistor][block];
  }

 private:
  std::size_t count_;
  std::vector<std::vector<TwoPortBlock::Numbers>> deviates_;
};

/// The figures of the pads that fill() makes of each block of draws; zero deviates are the nominal
/// pad. Channels are compared in count / 2 pairs.
PadSpread spread(const ResistorDraws& draws, const VariedAttenuation& attenuation,
                 const std::function<void(std::size_t block, TwoPortBlock& pads)>& fill);

/// Random resistors, the same draws for every pad, so that pads differ by what they are alone.
class PadDraws {
 public:
  /// Throws InputError for samples out of bounds.
  explicit PadDraws(const ToleranceOptions& options) : draws_(options, most_resistors) {}
  /// Each resistor lies within pad.tolerance_percent on its own, both legs of an H or O too.
  PadSpread spread(const PadSite& site, const Pad& pad) const;

 private:
  static constexpr std::size_t most_resistors = 5;
  void vary_block(const Pad& pad, std::size_t index, TwoPortBlock& result) const;

  ResistorDraws draws_;
};

}  // namespace ohmtilt
