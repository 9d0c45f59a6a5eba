#pragma once
// The questions one asks a circuit. Every function: own sources are set to zero while a port is
// driven (voltage sources short, current sources open); errors as NodalSystem's; an empty port name
// is the default port. hz in hertz; one result a frequency.
#include <string>
#include <vector>

#include <ohmtilt/base/array.h>
#include <ohmtilt/base/remembered.h>
#include <ohmtilt/circuit/circuit.h>
#include <ohmtilt/circuit/nodal_system.h>
#include <ohmtilt/curve/one_port.h>

namespace ohmtilt {

/// The part of asked where all parts that come from data are known. Throws InputError where that
/// is nothing.
Band known_band(const Circuit& circuit, const Band& asked);

/// Driving-point impedance in ohm at a port, the other ports open.
ComplexArray driving_point(const Circuit& circuit, const Array& hz, std::string_view port = {});
ComplexArray driving_point(const NodalSystem& system, const Port& port);

/// The circuit's impedance at the port as a value; its range is where all its curve parts are known
/// (1e-9 to 1e12 Hz without any). A circuit that cannot be solved throws here already.
OnePort one_port(const Circuit& circuit, std::string_view port = {});

/// The voltage of a port.
struct PortVolt {
  std::string port;
  ComplexArray volt;
};

/// Voltage of each other port, open, for 1 V at the driven one. Throws InputError where the driven
/// port is shorted by the circuit itself.
std::vector<PortVolt> transfers(const Circuit& circuit, const Array& hz,
                                std::string_view drive = {});
std::vector<PortVolt> transfers(const NodalSystem& system, const std::vector<Port>& ports,
                                const Port& drive);
/// Voltage of every port, open, by the circuit's own sources.
std::vector<PortVolt> own_port_volts(const Circuit& circuit, const Array& hz);
std::vector<PortVolt> own_port_volts(const NodalSystem& system, const std::vector<Port>& ports);

/// What a port is to whatever is connected to it.
struct TheveninPort {
  ComplexArray open_volt;
  ComplexArray impedance_ohm;
};
TheveninPort thevenin(const Circuit& circuit, const Array& hz, std::string_view port = {});
TheveninPort thevenin(const NodalSystem& system, const Port& port);

/// The same as a value that solves each grid once, whether the impedance, the voltage or both are
/// asked for. A circuit that cannot be solved throws where it is made.
class SolvedPort {
 public:
  explicit SolvedPort(const Circuit& circuit, std::string_view port = {});
  /// Its range as one_port's.
  OnePort impedance() const;
  ComplexArray open_volt(const Array& hz) const { return solved_(hz).open_volt; }

 private:
  Band range_;
  Remembered<TheveninPort> solved_;
};

/// Scattering parameters of two ports for one reference resistance > 0; s21 is from in to out. The
/// other ports are open. A series-only two-port is solvable here.
Scattering scattering(const Circuit& circuit, const Array& hz, std::string_view in,
                      std::string_view out, double reference_ohm);

/// Chain parameters: v1 = a v2 + b i2, i1 = c v2 + d i2 with i2 out of the out port.
struct ChainParameters {
  ComplexArray a, b_ohm, c_siemens, d;
};
/// Throws InputError where nothing comes through (s21 = 0).
ChainParameters chain_parameters(const Circuit& circuit, const Array& hz, std::string_view in,
                                 std::string_view out);

/// One pair of terminals of one elementary part: voltage, current into its first node, and complex
/// power v i* taken up (rms phasors). A four-terminal part has two.
struct Branch {
  std::string part;
  ComplexArray volt, ampere;
  ComplexArray power_watt() const { return volt * ampere.conjugate(); }
};
/// All branches with the circuit's own sources; their powers add up to zero.
std::vector<Branch> own_branches(const Circuit& circuit, const Array& hz);
/// All branches with 1 V at the driven port; the last one is the drive itself ("drive").
std::vector<Branch> driven_branches(const Circuit& circuit, const Array& hz,
                                    std::string_view drive = {});

}  // namespace ohmtilt
