#pragma once
#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include <ohmtilt/circuit/nodal_system.h>

namespace ohmtilt {

/// One value of one part that is changed by itself.
struct ChangedValue {
  std::string part, quantity;  ///< quantity: the TOML key
  double percent = 0;          ///< by how much; negative where only less is physical
};

/// Calls look once for each value that is not zero, with this value percent (> 0) larger and all
/// others as they were; smaller by as much where larger is not physical (a coupling of 1). What it
/// finds is a difference, and so holds near a resonance, where a derivative promises more than any
/// change brings. Voltages and currents of sources are left alone. system ends as it began.
void for_each_change(NodalSystem& system, double percent,
                     const std::function<void(const ChangedValue&)>& look);

/// What a change does to a port, one value per frequency.
struct PortChange {
  ChangedValue changed;
  Array impedance_percent;            ///< of |Z|
  std::vector<Array> transfer_db;     ///< of the voltage of each port of `to`, in its order
  double impedance_peak_percent = 0;  ///< the largest in magnitude, with its sign
  double peak_hz = 0;                 ///< where
};

/// Of every value, those that change |Z| most first. drive: the port of 1 V that transfer_db is
/// from; empty: the circuit's own sources act. to: the ports whose voltage is followed; a voltage
/// of zero gives values that are not finite. Throws InputError as NodalSystem does, and where Z is
/// zero.
std::vector<PortChange> port_changes(const Circuit& circuit, const Array& hz, std::string_view port,
                                     std::string_view drive, const std::vector<std::string>& to,
                                     double percent = 1);

}  // namespace ohmtilt
