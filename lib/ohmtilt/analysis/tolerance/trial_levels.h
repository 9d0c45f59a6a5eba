#pragma once
#include <optional>

#include <ohmtilt/analysis/tolerance/trials.h>

namespace ohmtilt {

/// Two sources on one earphone in many draws: what is the same in all of them is worked out once.
/// Its value numbers: first those of `to`, then of `from`, then of the earphone.
class DrawnLevels {
 public:
  /// Keeps a reference to comparison.
  explicit DrawnLevels(const TolerancedComparison& comparison);
  /// How many values vary.
  std::size_t values() const;
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
    std::size_t first_value = 0;
    std::optional<Source> resistive;  ///< once for all frequencies
    std::size_t end() const { return first_value + circuit.values.size(); }
  };
  CircuitDraws draws_of(const Varied& varied) const {
    return {varied.circuit, *draws_, varied.first_value};
  }
  static std::optional<Varied> varied(const TheveninSource& source, std::size_t first_value);
  Source source(const TheveninSource& source, const std::optional<Varied>& varied,
                const Array& hz) const;

  const TolerancedComparison& comparison_;
  std::optional<Varied> to_, from_, load_;
  const Draws* draws_ = nullptr;
};

/// |voltage at the terminals / e.m.f.|^2 of the draws first ... first + count - 1 at the block's
/// column f.
Array level_power(const DrawnValues& load_ohm, const DrawnLevels::Source& source, Eigen::Index f,
                  Eigen::Index first, Eigen::Index count);

}  // namespace ohmtilt
