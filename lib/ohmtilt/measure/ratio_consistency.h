#pragma once
#include <ohmtilt/measure/impedance.h>

namespace ohmtilt {

/// Whether a measured ratio can be that of a passive impedance and a resistor.
struct RatioConsistency {
  double delay_seconds = 0;  ///< by which the second channel comes late
  double offset_deg = 0;     ///< constant phase: 0, or 180 where a channel is inverted
  double residual_deg = 0;   ///< weighted rms of what is left of the phase
  double expected_deg = 0;   ///< the same for what the recordings' own errors leave
  double active_share = 0;   ///< of the frequencies at which Re Z < 0 by four uncertainties
};

/// The ratio Z/(Z + R) (Wiring::load) or R/(Z + R), with whatever was calibrated taken out, is of
/// minimum phase, so that its phase follows from its magnitude (Kramers and Kronig's relations for
/// ln|ratio|; minimum_phase.h). What differs is fitted by a constant and a delay, weighted by what
/// the computed phase leaves open. At least 12 frequencies, finite values.
RatioConsistency ratio_consistency(const MeasuredImpedance& measured, Wiring wiring,
                                   double reference_ohm);

}  // namespace ohmtilt
