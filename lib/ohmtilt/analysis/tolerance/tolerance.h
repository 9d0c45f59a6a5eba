#pragma once
// What the tolerances of parts do: Monte Carlo percentiles and worst cases. Every value that has a
// tolerance varies on its own, or with those of its group, and with its temperature
// (varied_values.h). Results depend neither on the number of threads nor on the machine.
#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <ohmtilt/analysis/deviation/deviation.h>
#include <ohmtilt/base/percentiles.h>
#include <ohmtilt/circuit/circuit.h>
#include <ohmtilt/circuit/tolerance_detail.h>

namespace ohmtilt {

/// Called by the thread that asked, with the part of the work that is done, 0 to 1.
using Progress = std::function<void(double)>;

struct ToleranceOptions {
  long samples = 10000;  ///< draws, 10 to 1,000,000
  std::uint64_t seed = 1;
  Distribution distribution = Distribution::uniform;  ///< of parts that state none; not binned
  Progress progress = nullptr;
  /// Of the surroundings, anywhere alike between the two: -60 to 200 deg C.
  double low_celsius = 20, high_celsius = 20;
  /// What the amplifier gives without load (of a circuit: what the driven port has), V rms of the
  /// tone that heats each part most: parts with kelvin_per_watt are anywhere between cold and what
  /// it makes of them in the long run, all together. Nothing: they stay cold.
  std::optional<double> heating_volt = std::nullopt;
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

/// How far a worst case goes. Where the quantity rises or falls with each value throughout its
/// tolerance, as in networks of resistors, the corners bound every draw; near a resonance a value
/// inside may reach further, and so 1000 sets inside are tried as well.
struct WorstCaseReach {
  bool all_corners = true;      ///< otherwise those that a search led to: no bound
  bool inside_further = false;  ///< a set inside reached further than the corners: no bound either
};

/// The extremes over all corners, each axis (a value, or what a group has in common) at one end or
/// the other, and over sets inside. Of more than 14 axes those corners are tried to which the signs
/// of the changes by one value lead, and their neighbours. Temperatures as in options.
struct CircuitWorstCase {
  Extremes impedance_ohm;
  std::vector<PortExtremes> transfer;
  WorstCaseReach reach;
};
CircuitWorstCase circuit_worst_case(const Circuit& circuit, const Array& hz,
                                    const CircuitQuestion& question = {},
                                    const ToleranceOptions& options = {});

/// Two sources on an earphone, any of which may have tolerances.
struct TolerancedComparison {
  DeviationGrid grid;
  ComplexArray load_ohm;           ///< at grid.all_hz(); not used with a circuit
  std::optional<Circuit> circuit;  ///< the earphone's, when its parts have tolerances
  TheveninSource from, to;
};

/// True when some value of it varies: by its tolerance, or by the temperatures of options.
bool has_tolerances(const Circuit& circuit, const ToleranceOptions& options = {});
bool has_tolerances(const TheveninSource& source, const ToleranceOptions& options = {});

/// The same of one number.
struct NumberPercentiles {
  double p05 = 0, p50 = 0, p95 = 0;
};

struct DeviationTolerance {
  Percentiles deviation_db;   ///< anchored in each draw
  NumberPercentiles span_db;  ///< of each draw's own largest less smallest deviation
  /// 95 % of |level of one channel less level of the other|, not anchored: two draws of source and
  /// earphone that have in common what groups over both channels and the temperature say. Samples /
  /// 2 pairs.
  Array channel_difference_db;
  /// The same of channels that have nothing in common; empty where no group says otherwise.
  Array channel_difference_unmatched_db;
};

/// Throws as circuit_tolerance.
DeviationTolerance deviation_tolerance(const TolerancedComparison& comparison,
                                       const ToleranceOptions& options = {});

struct DeviationWorstCase {
  Extremes deviation_db;
  Array channel_difference_db;  ///< the largest found, as matched as the channels are
  WorstCaseReach reach;
};
/// Over the corners, as circuit_worst_case.
DeviationWorstCase deviation_worst_case(const TolerancedComparison& comparison,
                                        const ToleranceOptions& options = {});

}  // namespace ohmtilt
