#include <ohmtilt/base/decibel.h>
#include <ohmtilt/circuit/solver.h>
#include <ohmtilt/circuit/value_changes.h>
#include <ohmtilt/text/error.h>

#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

/// The per cent that the value was made larger by.
double changed_by(NodalSystem& system, ValueIndex index, double nominal, double percent) {
  try {
    system.set_value(index, nominal * (1 + percent / 100));
    return percent;
  } catch (const InputError&) {  // at its upper bound already
    system.set_value(index, nominal * (1 - percent / 100));
    return -percent;
  }
}

/// What a port and those that are followed have.
struct PortState {
  Array ohm;
  std::vector<Array> volt;
};

PortState state_of(const NodalSystem& system, const Circuit& circuit, std::string_view port,
                   std::string_view drive, const std::vector<std::string>& to) {
  PortState state{driving_point(system, circuit.port(port)).abs(), {}};
  std::vector<Port> ports;
  for (const auto& name : to) ports.push_back(circuit.port(name));
  const auto volts =
      drive.empty() ? own_port_volts(system, ports) : transfers(system, ports, circuit.port(drive));
  for (const auto& one : volts) state.volt.push_back(one.volt.abs());
  return state;
}

PortChange change_of(const ChangedValue& changed, const PortState& before, const PortState& after,
                     const Array& hz) {
  PortChange change{changed, 100 * (after.ohm / before.ohm - 1), {}, 0, 0};
  for (std::size_t i = 0; i < before.volt.size(); ++i)
    change.transfer_db.push_back(db_from_amplitude(Array(after.volt[i] / before.volt[i])));
  Eigen::Index at = 0;
  change.impedance_percent.abs().maxCoeff(&at);
  change.impedance_peak_percent = change.impedance_percent[at];
  change.peak_hz = hz[at];
  return change;
}

}  // namespace

void for_each_change(NodalSystem& system, double percent,
                     const std::function<void(const ChangedValue&)>& look) {
  for (std::size_t p = 0; p < system.parts().size(); ++p) {
    const Part part = system.parts()[p];
    if (is_independent_source(part.kind)) continue;
    for (std::size_t k = 0; k < part.values.size(); ++k) {
      const double nominal = part.values[k].value;
      if (nominal == 0) continue;
      const double by = changed_by(system, {p, k}, nominal, percent);
      look({part.name, part.values[k].key, by});
      system.set_value({p, k}, nominal);
    }
  }
}

std::vector<PortChange> port_changes(const Circuit& circuit, const Array& hz, std::string_view port,
                                     std::string_view drive, const std::vector<std::string>& to,
                                     double percent) {
  NodalSystem system(circuit, hz);
  const PortState before = state_of(system, circuit, port, drive, to);
  if (!(before.ohm > 0).all())
    throw InputError("the port is shorted in the circuit", "ask another port");
  std::vector<PortChange> changes;
  for_each_change(system, percent, [&](const ChangedValue& changed) {
    changes.push_back(change_of(changed, before, state_of(system, circuit, port, drive, to), hz));
  });
  std::stable_sort(changes.begin(), changes.end(), [](const auto& a, const auto& b) {
    return std::abs(a.impedance_peak_percent) > std::abs(b.impedance_peak_percent);
  });
  return changes;
}

}  // namespace ohmtilt
