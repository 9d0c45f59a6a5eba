#pragma once
#include <ohmtilt/analysis/tolerance/tolerance.h>
#include <ohmtilt/circuit/nodal_system.h>
#include <ohmtilt/circuit/varied_values.h>

namespace ohmtilt {

/// Where each draw lies on each axis. Draws 2i and 2i + 1 are two channels: they have in common
/// what DrawAxis::alike says, and nothing else.
class Draws {
 public:
  /// Axes that are not named are of their own. Throws InputError for samples out of bounds.
  static Draws random(const ToleranceOptions& options, std::vector<DrawAxis> axes = {});
  /// All 2^axes corners; throws InputError for too many.
  static Draws corners(std::size_t axes);
  /// These: a row a draw, a column an axis.
  static Draws listed(Eigen::MatrixXd deviates);

  Eigen::Index count() const { return count_; }
  /// -1 to 1.
  double deviate(Eigen::Index draw, std::size_t axis) const;

 private:
  enum class Kind { random, corners, listed } kind_ = Kind::random;
  Eigen::Index count_ = 0;
  std::uint64_t seed_ = 0;
  Distribution distribution_ = Distribution::uniform;
  std::vector<DrawAxis> axes_;
  Eigen::MatrixXd listed_;
};

/// True when no impedance of the circuit depends on frequency and only resistors vary.
bool varies_resistors_only(const VariedCircuit& circuit);

/// A quantity over draws (rows) and frequencies (columns); one row or one column where it is the
/// same for all.
using DrawnValues = Eigen::ArrayXXcd;

/// The draws of one circuit on a block of frequencies.
class CircuitDraws {
 public:
  CircuitDraws(const VariedCircuit& circuit, const Draws& draws)
      : circuit_(circuit), draws_(draws) {}

  /// Calls use(draw, system) for every draw, in several threads, each with a system of its own that
  /// holds the draw's values.
  void each(const Array& hz,
            const std::function<void(Eigen::Index draw, const NodalSystem& system)>& use) const;

  /// Open voltage and impedance of a port of a circuit that varies_resistors_only(): one column.
  /// The draws take the place of the frequencies, so that one run of the solver works out
  /// thousands.
  struct Port {
    DrawnValues open_volt, impedance_ohm;
  };
  Port resistive_port(const ohmtilt::Port& port) const;

 private:
  double drawn(std::size_t value, Eigen::Index draw) const;

  const VariedCircuit& circuit_;
  const Draws& draws_;
};

}  // namespace ohmtilt
