#pragma once
// A circuit as the differential equations of its states, one per capacitor and inductor.
#include <ohmtilt/circuit/circuit.h>
#include <ohmtilt/model/rational_model.h>

#include <Eigen/Core>
#include <string>
#include <vector>

namespace ohmtilt {

/// q' = a q + b u; y = c q + d u + proportional u'. One row of c, d and proportional per output.
/// The charges and fluxes are scaled so that |state|^2 is twice the energy, so a passive circuit
/// has a
/// + a^T <= 0. Of dependent states (loops of capacitors, cuts of inductors) q holds fewer.
struct LinearSystem {
  Eigen::MatrixXd a;
  Eigen::VectorXd b;
  Eigen::MatrixXd c;
  Eigen::VectorXd d, proportional;
  Eigen::MatrixXd states;                ///< row i: the scaled charge or flux of part i by q
  Eigen::VectorXd state_drive;           ///< row i: the same by u
  std::vector<std::string> state_names;  ///< of those parts
};

/// What drives it: a current of u ampere into port (its voltage is then Z), or u volt of the
/// voltage source of that name.
struct Drive {
  enum class Kind { port_current, voltage_source } kind = Kind::port_current;
  std::string name;  ///< empty: the default port
};

/// The exact equations of a circuit of elementary rational parts (rational_circuit.h), by putting
/// every capacitor's voltage and every inductor's current for a source and solving what is left,
/// with dependent states (loops of capacitors, cuts of inductors) taken out. Outputs are the
/// voltages of ports. All other own sources are zero. Throws InputError for another kind of part
/// and for circuits that leave a voltage or current undetermined.
LinearSystem linear_system(const Circuit& circuit, const Drive& drive,
                           const std::vector<Port>& outputs);

/// The drive's answer mode by mode: q at s (rad/s) is the sum of shape input/(s - pole).
struct NaturalModes {
  Eigen::VectorXcd pole;
  Eigen::MatrixXcd shape;  ///< one column a mode
  Eigen::VectorXcd input;
};
/// Throws InputError where they cannot be found.
NaturalModes natural_modes(const LinearSystem& system);

/// The transfer function of each output. Poles that are equal within 1e-9 become one; terms that
/// are nothing (1e-13 of the largest contribution) are left out.
std::vector<RationalModel> rational_models(const LinearSystem& system, const NaturalModes& modes);

/// Share of each state in the energy of the oscillation e^(st) that the drive keeps up, s in rad/s;
/// adds up to 1. Where s is a zero of the port's own voltage under a current, that is the natural
/// mode with the port shorted. Not finite at a pole.
Array energy_shares(const LinearSystem& system, const NaturalModes& modes, Complex s);

/// A port's own impedance Z(s) and the voltages at other ports per ampere into it.
struct PortModels {
  LinearSystem system;  ///< driven by the port's current; its outputs are the port and the others
  NaturalModes modes;   ///< of the open port
  RationalModel impedance;
  std::vector<RationalModel> transfer;  ///< one a port of others
};
PortModels port_models(const Circuit& circuit, std::string_view port = {},
                       const std::vector<Port>& others = {});

}  // namespace ohmtilt
