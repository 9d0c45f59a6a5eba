#pragma once
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <ohmtilt/curve/one_port.h>
#include <ohmtilt/curve/two_port.h>

namespace ohmtilt {

struct ToleranceDetail;  // tolerance_detail.h

/// The kinds of FILES.md, in its order. What each is called and consists of: part_rules.cpp.
enum class PartKind {
  resistor,
  inductor,
  capacitor,
  lossy_inductor,
  transformer,
  gyrator,
  coupled_inductors,
  voltage_source,
  current_source,
  voltage_controlled_voltage_source,
  voltage_controlled_current_source,
  current_controlled_voltage_source,
  current_controlled_current_source,
  curve,
  two_port,
  dynamic_driver,
  armature_driver,
  planar_driver,
  piezo_driver
};

/// A value of a part under its TOML key, in the unit that the key names ("henry", "moving_gram").
/// The third resonance's peak of a driver is "resonance.3.peak_ohm".
struct PartValue {
  std::string key;
  double value = 0;
};

/// One part as the file describes it. Make one by hand and let Circuit check it.
struct Part {
  std::string name;
  PartKind kind = PartKind::resistor;
  std::vector<std::string> nodes;
  std::vector<PartValue> values;  ///< keys that are absent take the default of FILES.md
  std::string control;           ///< name of the voltage source a current-controlled one listens to
  std::optional<OnePort> curve;  ///< kind `curve` only
  std::optional<TwoPort> two_port;  ///< kind `two-port` only
  std::string curve_file;           ///< the file of either as written; for circuit_text
  double tolerance_percent = 0;
  std::shared_ptr<const ToleranceDetail> tolerance_detail = nullptr;  ///< null: none
  long line = 0;  ///< in the circuit's file, for messages; 0 for a part made in memory

  bool has(std::string_view key) const;
  /// Throws InputError naming the part when there is no such value.
  double value(std::string_view key) const;
  double value_or(std::string_view key, double fallback) const;
};

/// "lossy-inductor", as files write it.
std::string_view kind_name(PartKind kind);
std::optional<PartKind> kind_of_name(std::string_view name);
std::vector<std::string> kind_names();
/// A voltage or current of its own.
bool is_independent_source(PartKind kind);
/// An independent or a controlled source.
bool is_source(PartKind kind);

// Parts made in memory: name, nodes, value. The rest of the kinds are made from Part directly.
Part resistor(std::string name, std::string a, std::string b, double ohm);
Part inductor(std::string name, std::string a, std::string b, double henry, double series_ohm = 0);
Part capacitor(std::string name, std::string a, std::string b, double farad, double series_ohm = 0);
Part lossy_inductor(std::string name, std::string a, std::string b, double k, double n);
Part voltage_source(std::string name, std::string a, std::string b, double volt,
                    double phase_deg = 0);
Part current_source(std::string name, std::string a, std::string b, double ampere,
                    double phase_deg = 0);
Part curve_part(std::string name, std::string a, std::string b, OnePort impedance);
/// Port 1 between a and b, port 2 between c and d.
Part two_port_part(std::string name, std::vector<std::string> nodes, TwoPort of);
/// Four-terminal kinds: nodes a, b, c, d.
Part four_terminal(PartKind kind, std::string name, std::vector<std::string> nodes,
                   std::vector<PartValue> values);

}  // namespace ohmtilt
