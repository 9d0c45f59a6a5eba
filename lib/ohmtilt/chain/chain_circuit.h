#pragma once
#include <optional>

#include <ohmtilt/chain/chain.h>
#include <ohmtilt/circuit/circuit.h>
#include <ohmtilt/curve/one_port.h>

namespace ohmtilt {

struct ChainCircuitOptions {
  bool source = true;  ///< with the amplifier: an e.m.f. of 1 V and its output impedance
  std::optional<OnePort> earphone;  ///< attached to the terminals, as the part "earphone"
};

/// The chain as a circuit. Parts are called "source.output", "stage 1: pad.series" and so on: the
/// stage's label, a dot, and the TOML key of the value, without its unit where one follows.
/// Tolerances are the pads'. Ports: "earphone" (the terminals; the default) and "amplifier" (where
/// the stages begin). A shunt returns to the return conductor at its own place. A balanced source
/// drives both legs from an e.m.f. whose second pole is the reference: at the terminals that is all
/// the same.
CircuitDraft chain_circuit(const Chain& chain, const ChainCircuitOptions& options = {});

struct StereoCircuitOptions {
  int wires = 3;            ///< 4: the cables' shared returns are left out, the source's stays
  bool idle_driven = true;  ///< the idle channel's amplifier holds 0 V; otherwise it is unplugged
  std::optional<OnePort> earphone;  ///< attached to both channels
};

/// Two equal channels that have in common what returns they share: the driven one from 1 V, the
/// idle one from 0 V. Part names get "driven " or "idle " before them, those of shared returns do
/// not. Ports: "driven" and "idle", each at its earphone. Throws InputError for a balanced source,
/// which shares no return.
CircuitDraft stereo_circuit(const Chain& chain, const StereoCircuitOptions& options = {});

}  // namespace ohmtilt
