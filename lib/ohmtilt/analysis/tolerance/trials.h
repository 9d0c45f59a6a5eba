#pragma once
#include <ohmtilt/analysis/tolerance/tolerance.h>
#include <ohmtilt/circuit/nodal_system.h>
#include <ohmtilt/circuit/varied_values.h>

namespace ohmtilt {

/// Where each value of each draw lies within its tolerance.
class Draws {
 public:
  /// Throws InputError for samples out of bounds.
  static Draws random(const ToleranceOptions& options);
  /// All 2^values corners; throws InputError for too many.
  static Draws corners(std::size_t values);

  Eigen::Index count() const { return count_; }
  /// -1 to 1. value counts all values of all circuits that are drawn together.
  double deviate(Eigen::Index draw, std::size_t value) const;

 private:
  enum class Kind { uniform, normal, corners } kind_ = Kind::uniform;
  Eigen::Index count_ = 0;
  std::uint64_t seed_ = 0;
};

/// True when no impedance of the circuit depends on frequency and only resistors vary.
bool varies_resistors_only(const VariedCircuit& circuit);

/// A quantity over draws (rows) and frequencies (columns); one row or one column where it is the
/// same for all.
using DrawnValues = Eigen::ArrayXXcd;

/// The draws of one circuit on a block of frequencies. first_value: which of the draws' values is
/// the circuit's first.
class CircuitDraws {
 public:
  CircuitDraws(const VariedCircuit& circuit, const Draws& draws, std::size_t first_value)
      : circuit_(circuit), draws_(draws), first_value_(first_value) {}

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
  const VariedCircuit& circuit_;
  const Draws& draws_;
  std::size_t first_value_;
};

}  // namespace ohmtilt
