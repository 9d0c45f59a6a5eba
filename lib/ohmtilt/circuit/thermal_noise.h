#pragma once
#include <string>
#include <vector>

#include <ohmtilt/base/array.h>
#include <ohmtilt/circuit/circuit.h>

namespace ohmtilt {

inline constexpr double boltzmann_joule_per_kelvin = 1.380649e-23;  ///< exact (CODATA 2018)
inline constexpr double room_kelvin = 293.15;

struct PartNoise {
  std::string part;  ///< of the circuit as given: a driver's parts are added in power
  Array volt_per_root_hz;
};

struct ThermalNoise {
  Array volt_per_root_hz;        ///< all parts in power
  std::vector<PartNoise> parts;  ///< those that have any, in the circuit's order
  std::vector<std::string> warnings;
};

/// Open-circuit thermal noise density at a port, in V per root Hz, of every resistive part: sqrt(4
/// k T Re Z) in series with it [Nyquist1928], carried to the port by one adjoint solution. The
/// mechanical losses of a driver count at the same temperature. A negative resistance (a curve that
/// is not passive) counts as none, with a warning.
/// Throws InputError as NodalSystem does, and for kelvin < 0.
ThermalNoise thermal_noise(const Circuit& circuit, const Array& hz, std::string_view port = {},
                           double kelvin = room_kelvin);

}  // namespace ohmtilt
