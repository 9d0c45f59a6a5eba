#pragma once
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/base/frequency_grid.h>
#include <ohmtilt/chain/chain.h>
#include <ohmtilt/chain/earphone.h>

namespace ohmtilt {

struct CrosstalkOptions {
  Band band;                  ///< hertz; cut to where all data reach, with a warning
  Eigen::Index points = 480;  ///< 2 <= points
  int wires = 3;              ///< 3: cables with their shared returns; 4: without
  bool idle_driven = true;    ///< the idle channel's amplifier holds 0 V; otherwise it is unplugged
};

struct Separation {
  double hz = 0;
  double db = 0;
};

/// Voltage across the driven earphone over that across the idle one, in dB, at each frequency;
/// infinite where nothing crosses over.
struct Crosstalk {
  Array hz, separation_db;
  std::optional<Separation> worst;            ///< the smallest; nothing where nothing crosses
  std::optional<Separation> four_wire_worst;  ///< the same with four wires, idle channel as asked
  Array four_wire_db;                         ///< separation with four wires
  std::vector<std::string> warnings;
};

/// Whether the chain says how its channels are coupled: by a return of source or cable that both
/// use, were it of 0 ohm, or, balanced, by none.
bool crosstalk_is_known(const Chain& chain);

/// Two equal channels as one circuit (stereo_circuit), solved; no formula besides. A balanced
/// source shares no return, so nothing crosses here, whatever its cable says.
Crosstalk crosstalk(const Chain& chain, const Earphone& earphone,
                    const CrosstalkOptions& options = {});

}  // namespace ohmtilt
