#pragma once
#include <string_view>

#include <ohmtilt/base/frequency_grid.h>
#include <ohmtilt/circuit/circuit.h>
#include <ohmtilt/curve/two_port.h>

namespace ohmtilt {

/// A pair of ports of a circuit as a two-port for a file: port 1 is `in`, port 2 `out`, its own
/// sources are zero, other ports open; S for 50 ohm on log_grid(band, points) and at 1 kHz where
/// that is within it, so that both a deviation and its anchor find data. Throws InputError as
/// scattering() does, and where the two ports are one.
TwoPortData sampled_two_port(const Circuit& circuit, std::string_view in, std::string_view out,
                             const Band& band, Eigen::Index points);

}  // namespace ohmtilt
