#pragma once

namespace ohmtilt {

/// Resistance, inductance and capacitance in parallel.
struct ParallelResonance {
  double ohm = 0, henry = 0, farad = 0;
};

/// The same in series.
struct SeriesResonance {
  double ohm = 0, henry = 0, farad = 0;
};
/// The dual about ohm > 0: what has the impedance ohm^2 / Z, so that of a load of ohm + Z, ohm and
/// the dual in series across it leave exactly ohm (textbook duality; [Zobel1923]). Throws
/// InputError for a value of the resonance that is not positive.
SeriesResonance dual_of(const ParallelResonance& resonance, double ohm);

}  // namespace ohmtilt
