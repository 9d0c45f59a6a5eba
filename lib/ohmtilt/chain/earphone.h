#pragma once
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include <ohmtilt/circuit/circuit.h>
#include <ohmtilt/curve/curve_errors.h>
#include <ohmtilt/curve/impedance_curve.h>
#include <ohmtilt/curve/one_port.h>

namespace ohmtilt {

/// Where an impedance's phase comes from.
enum class PhaseOrigin { measured, minimum, computed };
/// "measured", "minimum" or "computed".
const char* to_string(PhaseOrigin phase);

/// A response with the source that it was measured with. What it says of the earphone alone is
/// ideal_response_db() (ear_level.h).
struct MeasuredResponse {
  ResponseCurve curve;
  double source_ohm = 0;
};

/// Sound pressure level at one frequency for 1 V at the earphone's terminals.
struct Sensitivity {
  double db_per_volt = 0;  ///< dB SPL
  double hz = 1000;
};

/// What the earphone keeps out: one figure in dB, or a curve of it.
using Isolation = std::variant<double, ResponseCurve>;

/// An earphone, wherever its impedance comes from. An immutable value. What its file does not say
/// is nothing; the analysis that needs it says so.
struct Earphone {
  std::string title;
  OnePort impedance;
  PhaseOrigin phase = PhaseOrigin::measured;
  /// How far other admissible phases of the same magnitudes lie from it; nothing unless phase is
  /// minimum.
  std::optional<EndSpread> phase_spread;
  std::optional<ImpedanceCurve> curve;  ///< its data; nothing for a circuit
  std::vector<std::string> warnings;
  std::optional<Circuit> circuit;  ///< its default port are the terminals; nothing for a curve
  std::string kind;                ///< in words, as the file has it; may be empty
  std::optional<MeasuredResponse> response;
  std::optional<Sensitivity> sensitivity;
  std::optional<double> rated_ohm;
  std::optional<double> max_watt;  ///< the most that it bears
  std::optional<Isolation> isolation;
  /// Where the sensitivity was stated at 1 mW: the impedance that it is stated for.
  std::optional<double> sensitivity_ohm = std::nullopt;
  /// The direct voltage that its drivers need at the terminals; nothing: none.
  std::optional<double> needed_bias_volt = std::nullopt;
  /// Whether its terminals keep direct current away; nothing: not stated.
  std::optional<bool> blocks_direct_current = std::nullopt;
  std::string label = {};  ///< short, for narrow places; empty where its file has none
};

/// From an impedance curve; a magnitude-only one gets its minimum phase and says so in warnings.
Earphone earphone_from_curve(const ImpedanceCurve& curve);
/// From a circuit, whose default port are the terminals. Throws InputError where it cannot be
/// solved.
Earphone earphone_from_circuit(const Circuit& circuit);

/// Reads a curve, a circuit or an earphone file. A name that ends in .toml is one of the latter
/// two, told apart by its keys; a chain is refused by name. Throws InputError.
Earphone read_earphone(const std::filesystem::path& file);
/// A circuit or earphone file from memory; name stands for the file in messages, folder is where
/// the files that it names are.
Earphone parse_earphone(std::string_view toml, const std::string& name,
                        const std::filesystem::path& folder);

/// dB SPL at 1 V from dB SPL at 1 mW into ohm > 0: plus 10 lg (1000/ohm), because 1 V brings
/// 1000/ohm milliwatts. Throws InputError for an ohm that is not positive and finite.
double db_per_volt_from_milliwatt(double db_per_milliwatt, double ohm);

}  // namespace ohmtilt
