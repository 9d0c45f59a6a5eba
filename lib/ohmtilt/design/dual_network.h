#pragma once
#include <string>
#include <vector>

#include <ohmtilt/circuit/part.h>

namespace ohmtilt {

/// Resistance, inductance and capacitance in parallel.
struct ParallelResonance {
  double ohm = 0, henry = 0, farad = 0;
};

/// The same in series.
struct SeriesResonance {
  double ohm = 0, henry = 0, farad = 0;
};
/// The dual about ohm > 0: what has the impedance ohm^2 / Z. Throws InputError for a value of the
/// resonance that is not positive.
SeriesResonance dual_of(const ParallelResonance& resonance, double ohm);

/// The network across a load that makes it exactly a resistance of ohm: the load being that ohm in
/// series with a coil of coil_henry >= 0 and parallel resonances. With Z1 for what is reactive,
/// 1/(R + Z1) + 1/(R + R^2/Z1) = 1/R, and R^2/Z1 is the dual of Z1: a capacitor of coil_henry/R^2
/// beside a series resonance for each parallel one (textbook duality; Zobel 1923). Parts between
/// nodes a and b. Throws InputError unless there is something to compensate and values are
/// positive.
std::vector<Part> dual_network(double ohm, double coil_henry,
                               const std::vector<ParallelResonance>& resonances,
                               const std::string& a, const std::string& b);

}  // namespace ohmtilt
