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
  /// `same` once more after the measurement; it changes no value, but says whether a gain moved.
  std::optional<Transfer> again = {};

  bool any() const { return same || open || short_ || known; }
};

struct ImpedanceOptions {
  double reference_ohm = 0;  ///< > 0
  Wiring wiring = Wiring::load;
  double input_ohm = std::numeric_limits<double>::infinity();  ///< of the second channel, > 0
  double reference_tolerance_percent = 0;                      ///< limit, rectangular distribution
  /// How far the channels' gains may differ where no calibration tells it: limit, rectangular
  /// distribution, 0 <= it < 100. 1 % (0.1 dB) is common practice for one device, no source.
  double mismatch_percent = 1;
  /// Series resistance that leads and contacts may have where no short tells it: limit, rectangular
  /// distribution, >= 0. 0.2 ohm is common practice, no source.
  double lead_limit_ohm = 0.2;
  /// The least that a line input's resistance may be where nothing tells it, > 0. 10 kohm is common
  /// practice, no source.
  double least_input_ohm = 10e3;
};

/// An impedance over frequency as measured.
struct MeasuredImpedance {
  /// All zeros at these frequencies.
  MeasuredImpedance(Array frequency_hz, Array coherence, std::vector<std::string> removed);

  Array frequency_hz;
  ComplexArray impedance_ohm;
  Array uncertainty_ohm;  ///< one standard uncertainty per axis, random and systematic
  Array random_ohm;       ///< the part of it that is the recordings' own noise and errors
  Array coherence;
  ComplexArray share;                ///< Z/(Z + reference), what an ideal load wiring would read
  std::vector<std::string> removed;  ///< what each calibration took out, one sentence each
  std::vector<std::string> assumed;  ///< what nothing recorded tells, and counts in the uncertainty
  /// Standard uncertainty over |Z| for want of a calibration of the channels' gain, one a
  /// frequency: it is part of uncertainty_ohm. Zeros where one was recorded.
  Array uncalibrated;
  /// What the recordings make of the set-up, or what was assumed of it: the second channel's gain
  /// over the first, the reference over what it was given as (less the input's loading), leads and
  /// contacts in series with the earphone (ohm).
  ComplexArray gain, reference_ratio, leads_ohm;
};

/// How far a known resistor and the reference may disagree, relative: their tolerances, an input's
/// loading and the leads.
double disagreement_limit(const Calibration& calibration, const ImpedanceOptions& options);

/// The impedance by what the circuit leaves of the recorded ratio of the channels. g is the second
/// channel's gain, L = Ri/(R + Ri) what its input leaves of an open circuit's ratio, rho = R L the
/// reference with the input across it, l the leads in series with the earphone, P a known resistor.
///
/// At the earphone m = a (Z + l)/(Z + l + rho), a = g L. The open circuit reads a, a short
/// s = a l/(l + rho), the known resistor k = a (P + l)/(P + l + rho), so
///   Z = K (m - s)/(a - m),  K = rho a/(a - s), or with k: K = P (a - k)/(k - s).
/// `same` (g) and `open` (a) together tell L; g, Ri and k do too, since L = 1 - rho/Ri. With short
/// and known but neither of them, l solves l^2 + (P + rho) l = rho P s/(k - s), and a follows from
/// k.
///
/// At the reference m = x + g rho/(Z + l + rho), x crosstalk: an open circuit reads x, `same` g +
/// x, so that Z = K (s - m)/(m - x), K = g rho/(s - x), or with k: K = P (k - x)/(s - k). An open
/// circuit may as well be a leakage across the terminals, which would change K by x/g: unless short
/// and known settle that, it counts in the uncertainty.
///
/// What nothing tells is assumed: g = 1 within mismatch_percent, Ri infinite but at least
/// least_input_ohm, l = 0 up to lead_limit_ohm, x = 0. At the earphone an open circuit alone does
/// not tell g from L: K is then R, and what the input may take of it, at most
/// 1 - |o|/(1 + mismatch), counts in the uncertainty.
/// A known resistor that disagrees with the reference beyond their limits leaves Z open by as much.
/// Uncertainty by linear propagation (GUM) from the random errors of all recordings, the resistors'
/// tolerances and what was assumed; a mismatch of the gains moves Z by |1 + Z/R| times itself (by
/// |1 + R/Z| at the reference). Values that come out infinite are left as they are. Throws
/// InputError when a resistance is not positive, a tolerance is negative or grids differ.
MeasuredImpedance impedance(const Transfer& measured, const Calibration& calibration,
                            const ImpedanceOptions& options);

}  // namespace ohmtilt
