#pragma once
// Earphone and source as rational circuits: what the modes and time responses are worked out on.
#include <ohmtilt/chain/earphone.h>
#include <ohmtilt/chain/thevenin_source.h>
#include <ohmtilt/model/linear_system.h>

#include <optional>
#include <string>
#include <vector>

namespace ohmtilt {

/// A moving-coil driver's parameters at its own terminals (R. H. Small, J. Audio Eng. Soc. 20(5),
/// 1972).
struct MovingCoil {
  std::string name;  ///< empty for one that was found in a curve
  double dc_ohm = 0, resonance_hz = 0, q_mechanical = 0, q_electrical = 0;
};

/// Where a driver's motional voltage stands: behind its coil.
struct MotionalPort {
  std::string driver;
  Port port;
  RationalModel transfer;  ///< volt there per ampere into the terminals
};

struct DampingEarphone {
  std::string title;
  Circuit circuit;          ///< rational; its default port are the terminals
  RationalModel impedance;  ///< Z(s) of the terminals
  LinearSystem system;      ///< of circuit, driven by a current into the terminals
  NaturalModes open_modes;  ///< of system
  /// Largest error of the model in percent of |Z| over 20 Hz-20 kHz (of the data for a curve);
  /// nothing for a circuit that is rational as it stands.
  std::optional<double> error_percent;
  std::optional<double> fit_rms_percent;  ///< of a model fitted to a curve
  std::optional<MovingCoil>
      moving_coil;  ///< the first dynamic driver, or the curve's only resonance
  std::vector<MotionalPort> motional;
  std::optional<double> rated_ohm;
  Band known;  ///< where the impedance is known
  std::vector<std::string> warnings;
  /// The circuit with its k s^n as they stand, of which the rational one is good near the frequency
  /// axis only; nothing where there are none.
  std::optional<Circuit> power_laws;
};

/// A circuit is used as it stands (see rational_circuit()); a curve through a passive model fitted
/// to it: its poles themselves (vector fitting) where the data carry them to 1e-6, otherwise a
/// circuit of positive parts. What is not rational is approximated over 20 Hz-20 kHz and band.
/// Throws InputError as these do.
DampingEarphone damping_earphone(const Earphone& earphone, const Band& band = {});

struct DampingSource {
  std::string label;
  Circuit circuit;        ///< rational; 1 V of "source.emf" behind the terminals "earphone"
  RationalModel output;   ///< Zs(s) at the earphone's terminals
  double output_ohm = 0;  ///< |Zs| at 1 kHz
  /// Terminals' open voltage over the e.m.f. where the source stores no energy; nothing otherwise.
  std::optional<double> open_ratio;
  std::vector<std::string> warnings;
  std::optional<Circuit> power_laws;  ///< as DampingEarphone::power_laws
  std::string short_label = {};       ///< for narrow places; as label where there is no other
  bool is_resistive() const { return output.order() == 0 && output.proportional == 0; }
};

/// A number, a measured output impedance (through the passive circuit fitted to it) or a chain.
DampingSource damping_source(const TheveninSource& source);

/// Voltage ratios to the open e.m.f. with the earphone connected.
struct TerminalRatios {
  RationalModel terminal;
  std::vector<RationalModel> motional;  ///< one a DampingEarphone::motional
};
/// modes: the zeros of Z + Zs; a source that stores energy is solved anew, without them.
TerminalRatios terminal_ratios(const DampingEarphone& earphone, const DampingSource& source,
                               const std::vector<Complex>& modes);

/// Name of the part that holds most of a mode's energy with the terminals shorted ("bass", "treble,
/// resonance 2"), for zeros of Z (rad/s) of which a driver's resonance holds more than half;
/// nothing for others.
std::vector<std::optional<std::string>> mode_names(const DampingEarphone& earphone,
                                                   const std::vector<Complex>& modes);

}  // namespace ohmtilt
