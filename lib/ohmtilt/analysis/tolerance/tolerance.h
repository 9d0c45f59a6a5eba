#pragma once
// What the tolerances of parts do: Monte Carlo percentiles and worst cases. Every value that has a
// tolerance varies on its own (varied_values.h). Results depend neither on the number of threads
// nor on the machine.
#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <ohmtilt/analysis/deviation/deviation.h>
#include <ohmtilt/base/percentiles.h>
#include <ohmtilt/circuit/circuit.h>

namespace ohmtilt {

/// How a value lies within its tolerance: anywhere alike, or normally with a standard deviation of
/// a third of the tolerance (common practice, no source), cut off at the tolerance.
enum class Distribution { uniform, normal };

/// Called by the thread that asked, with the part of the work that is done, 0 to 1.
using Progress = std::function<void(double)>;

struct ToleranceOptions {
  long samples = 10000;  ///< draws, 10 to 1,000,000
  std::uint64_t seed = 1;
  Distribution distribution = Distribution::uniform;
  Progress progress;
};

/// What is asked of a circuit in each draw.
struct CircuitQuestion {
  std::string port;  ///< where |Z| is taken; empty: the default port
  /// The driven port (empty: the default port); nothing: the circuit's own sources act.
  std::optional<std::string> drive = std::string();
};

struct PortPercentiles {
  std::string port;
  Percentiles db;
};

/// Bands of |Z| in ohm, and of the voltage of each other port in dB re the driven one (or re 1 V).
struct CircuitTolerance {
  Percentiles impedance_ohm;
  std::vector<PortPercentiles> transfer;
};

/// Throws InputError when no part has a tolerance, for a number of samples out of bounds, and as
/// the solver does.
CircuitTolerance circuit_tolerance(const Circuit& circuit, const Array& hz,
                                   const CircuitQuestion& question = {},
                                   const ToleranceOptions& options = {});

struct PortExtremes {
  std::string port;
  Extremes db;
};
struct CircuitWorstCase {
  Extremes impedance_ohm;
  std::vector<PortExtremes> transfer;
};

/// The extremes over all corners: each value at one end of its tolerance or the other. They bound
/// every draw where the quantity rises or falls with each value throughout its tolerance, as in
/// networks of resistors; near a resonance a value inside may reach further. Throws InputError for
/// more than 14 values (16384 corners).
CircuitWorstCase circuit_worst_case(const Circuit& circuit, const Array& hz,
                                    const CircuitQuestion& question = {});

/// Two sources on an earphone, any of which may have tolerances.
struct TolerancedComparison {
  DeviationGrid grid;
  ComplexArray load_ohm;           ///< at grid.all_hz(); not used with a circuit
  std::optional<Circuit> circuit;  ///< the earphone's, when its parts have tolerances
  TheveninSource from, to;
};

/// True when some part of it has a tolerance.
bool has_tolerances(const Circuit& circuit);
bool has_tolerances(const TheveninSource& source);

/// The same of one number.
struct NumberPercentiles {
  double p05 = 0, p50 = 0, p95 = 0;
};

struct DeviationTolerance {
  Percentiles deviation_db;   ///< anchored in each draw
  NumberPercentiles span_db;  ///< of each draw's own largest less smallest deviation
  /// 95 % of |level of one channel less level of the other|, two independent draws of source and
  /// earphone with the same tolerances, not anchored. Samples / 2 pairs.
  Array channel_difference_db;
};

/// Throws as circuit_tolerance.
DeviationTolerance deviation_tolerance(const TolerancedComparison& comparison,
                                       const ToleranceOptions& options = {});

struct DeviationWorstCase {
  Extremes deviation_db;
  Array channel_difference_db;  ///< the largest there can be
};
/// Over the corners, as circuit_worst_case.
DeviationWorstCase deviation_worst_case(const TolerancedComparison& comparison);

}  // namespace ohmtilt
