#pragma once
#include <optional>

#include <ohmtilt/analysis/tolerance/trials.h>

namespace ohmtilt {

/// Two sources on one earphone in many draws: what is the same in all of them is worked out once.
/// Its axes: first those of `to`, then of `from`, then of the earphone; shared ones where they come
/// first.
class DrawnLevels {
 public:
  /// Keeps a reference to comparison.
  DrawnLevels(const TolerancedComparison& comparison, const ToleranceOptions& options);
  /// Of all that varies; empty where nothing does.
  const std::vector<DrawAxis>& axes() const { return axes_.axes(); }
  bool varies() const { return to_ || from_ || load_; }
  /// Keeps a reference to draws; before block().
  void prepare(const Draws& draws);

  /// Frequencies that fit into working memory together.
  Eigen::Index block_size() const;

  /// Sources and load on a block of frequencies.
  struct Source {
    DrawnValues output_ohm, open_ratio;
    bool varies() const { return output_ohm.rows() > 1; }
  };
  struct Block {
    DrawnValues load_ohm;
    Source from, to;
    bool from_varies() const { return from.varies() || load_ohm.rows() > 1; }
  };
  /// hz: columns first, first + 1, ... of the comparison's grid.all_hz().
  Block block(const Array& hz, Eigen::Index first) const;

 private:
  struct Varied {
    VariedCircuit circuit;
    std::optional<Source> resistive = std::nullopt;  ///< once for all frequencies
  };
  CircuitDraws draws_of(const Varied& varied) const { return {varied.circuit, *draws_}; }
  std::optional<Varied> varied(const TheveninSource& source, const PartHeat& heat);
  Source source(const TheveninSource& source, const std::optional<Varied>& varied,
                const Array& hz) const;

  const TolerancedComparison& comparison_;
  DrawAxes axes_;
  std::optional<Varied> to_, from_, load_;
  const Draws* draws_ = nullptr;
};

/// |voltage at the terminals / e.m.f.|^2 of the draws first ... first + count - 1 at the block's
/// column f.
Array level_power(const DrawnValues& load_ohm, const DrawnLevels::Source& source, Eigen::Index f,
                  Eigen::Index first, Eigen::Index count);

}  // namespace ohmtilt
