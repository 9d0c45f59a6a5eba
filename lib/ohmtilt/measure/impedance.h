#pragma once
#include <limits>
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/measure/transfer.h>

namespace ohmtilt {

/// What the second channel sees; the first always lies across reference plus earphone.
enum class Wiring {
  load,      ///< the earphone: source - reference - earphone - ground
  reference  ///< the reference: source - earphone - reference - ground
};

/// Recordings of the same set-up with something known in the earphone's place; any subset.
struct Calibration {
  std::optional<Transfer> same;        ///< both channels on the same signal
  std::optional<Transfer> open;        ///< nothing connected
  std::optional<Transfer> short_;      ///< a short in the earphone's place
  std::optional<Transfer> known;       ///< a known resistor in the earphone's place
  double known_ohm = 0;                ///< > 0 where known is given
  double known_tolerance_percent = 0;  ///< limit, rectangular distribution
};

struct ImpedanceOptions {
  double reference_ohm = 0;  ///< > 0
  Wiring wiring = Wiring::load;
  double input_ohm = std::numeric_limits<double>::infinity();  ///< of the second channel, > 0
  double reference_tolerance_percent = 0;                      ///< limit, rectangular distribution
  /// How far the channels' gains may differ where no calibration tells it: limit, rectangular
  /// distribution, 0 <= it < 100. 1 % (0.1 dB) is common practice for one device, no source.
  double mismatch_percent = 1;
};

/// An impedance over frequency as measured.
struct MeasuredImpedance {
  Array frequency_hz;
  ComplexArray impedance_ohm;
  Array uncertainty_ohm;  ///< one standard uncertainty per axis, random and systematic
  Array coherence;
  ComplexArray share;                ///< Z/(Z + reference), what an ideal load wiring would read
  std::vector<std::string> removed;  ///< what each calibration took out, one sentence each
  /// Standard uncertainty over |Z| for want of a calibration of the channels' gain, one a
  /// frequency: it is part of uncertainty_ohm. Zeros where one was recorded.
  Array uncalibrated;
};

/// Z = K (m - s)/(o - m), m the ratio of the channels, s and o what it is at a short and at an open
/// circuit. Without calibration, at the earphone (H = m): s = 0, o = 1, K = R, so Z = R H/(1 - H).
/// Each calibration replaces what was assumed by what was recorded; an input resistance lies across
/// the earphone or the reference. At the earphone an open circuit reads o = g Ri/(R + Ri), g the
/// channels' gain, and K = R Ri/(R + Ri): with the gain recorded too, K = R o/g. An open circuit
/// alone does not tell the two apart; K is then R (by input_ohm where that is given) and what the
/// input may take of it, at most 1 - |o|/(1 + mismatch), counts in the uncertainty.
/// Uncertainty by linear propagation (GUM) from the random errors of all recordings, the resistors'
/// tolerances, and a mismatch of the gains where nothing recorded tells it, which moves Z by
/// |1 + Z/R| times itself (by |1 + R/Z| at the reference). Values that come out infinite are left
/// as they are. Throws InputError when a resistance is not positive, a tolerance is negative or
/// grids differ.
MeasuredImpedance impedance(const Transfer& measured, const Calibration& calibration,
                            const ImpedanceOptions& options);

}  // namespace ohmtilt
