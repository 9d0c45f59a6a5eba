#pragma once
#include <ohmtilt/base/array.h>
#include <ohmtilt/measure/impedance.h>

namespace ohmtilt {

/// An impedance from the magnitude of a divider's ratio, and what its computed phase leaves open.
struct DividerImpedance {
  ComplexArray impedance_ohm;
  /// One standard uncertainty of |Z| (ohm) and of the phase (degrees) for what lies beyond the
  /// frequencies and between them; noise of the ratio is not in it.
  Array open_ohm, open_deg;
};

/// Z of reference_ohm and |ratio| = |Z/(Z + R)| (Wiring::load) or |R/(Z + R)| (Wiring::reference),
/// one a frequency, rising, each below 1. The inverse ratio w is 1 + R/Z or 1 + Z/R, positive real
/// as Z is: ratio and inverse are of minimum phase, and Re w >= 1 bounds the phase to
/// arccos |ratio|. Throws InputError for a range below a seventh of an octave.
DividerImpedance impedance_of_divider(const Array& hz, const Array& ratio, Wiring wiring,
                                      double reference_ohm);

/// Standard uncertainty in degrees of a phase computed from magnitudes at these frequencies, for
/// what lies between them: how far the phase moves when only every second magnitude is used.
Array phase_open_between(const Array& hz, const Array& magnitude, const Array& phase_deg);

}  // namespace ohmtilt
