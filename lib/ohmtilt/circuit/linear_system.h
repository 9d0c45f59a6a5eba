#pragma once
// A circuit as the differential equations of its energy stores.
#include <ohmtilt/circuit/circuit.h>
#include <ohmtilt/circuit/rational_model.h>

#include <Eigen/Core>
#include <string>
#include <vector>

namespace ohmtilt {

/// q' = a q + b u; y = c q + d u + slope u'. One row of c, d and slope an output. The stored
/// charges and fluxes are scaled so that |state|^2 is twice the energy, so a passive circuit has a
/// + a^T <= 0.
struct LinearSystem {
  Eigen::MatrixXd a;
  Eigen::VectorXd b;
  Eigen::MatrixXd c;
  Eigen::VectorXd d, slope;
  Eigen::MatrixXd stores;                ///< row i of it times q: state of the store i
  std::vector<std::string> store_names;  ///< the parts' names
};

/// What drives it: a current of u ampere into port (its voltage is then Z), or u volt of the
/// voltage source of that name.
struct Drive {
  enum class Kind { port_current, voltage_source } kind = Kind::port_current;
  std::string name;  ///< empty: the default port
};

/// The exact equations of a circuit of elementary rational parts (rational_circuit.h), by putting
/// every capacitor's voltage and every inductor's current for a source and solving what is left,
/// with dependent stores (loops of capacitors, cuts of inductors) taken out. Outputs are the
/// voltages of ports. All other own sources are zero. Throws InputError for another kind of part
/// and for circuits that leave a voltage or current undetermined.
LinearSystem linear_system(const Circuit& circuit, const Drive& drive,
                           const std::vector<Port>& outputs);

/// The transfer function of one output. Poles that are equal within 1e-9 become one; terms that are
/// nothing (1e-13 of the largest contribution) are left out.
RationalModel rational_model(const LinearSystem& system, Eigen::Index output = 0);
/// All of them, from one eigenvalue decomposition.
std::vector<RationalModel> rational_models(const LinearSystem& system);

/// Share of each store in the energy of the natural mode nearest to s (rad/s); adds up to 1.
struct ModeShares {
  Complex s;
  Array of_store;
};
std::vector<ModeShares> mode_shares(const LinearSystem& system);

/// Z(s) of the port of a rational circuit.
RationalModel port_model(const Circuit& circuit, std::string_view port = {});

}  // namespace ohmtilt
