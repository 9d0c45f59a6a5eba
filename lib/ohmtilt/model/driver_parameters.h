#pragma once
// Small-signal parameters of a moving-coil driver, from its electrical impedance.
#include <ohmtilt/curve/impedance_curve.h>
#include <ohmtilt/model/passive_fit.h>

#include <optional>
#include <string>

namespace ohmtilt {

/// [Small1972]. The motional branch is seen as Cmes, Lces
/// and Res in parallel, in series with the direct-current resistance.
struct DriverParameters {
  double dc_ohm = 0;
  double resonance_hz = 0;
  double peak_ohm = 0;  ///< Zmax = dc_ohm + motional_ohm
  double q_mechanical = 0, q_electrical = 0, q_total = 0;
  double motional_farad = 0;          ///< Cmes = Qes / (2 pi fs Re)
  double motional_henry = 0;          ///< Lces = Re / (2 pi fs Qes)
  double motional_ohm = 0;            ///< Res = Zmax - Re
  double lower_hz = 0, upper_hz = 0;  ///< f1 and f2 of the recipe; 0 from a circuit
};

/// From the lowest peak of |Z| that stands out of the noise, and the two frequencies at which |Z| =
/// sqrt(Re Zmax). dc_ohm is the direct-current resistance; without it the lowest |Z| below the
/// peak. An inductance of the coil raises the peak and shifts f1 and f2: -1.3 % in Qes for a usual
/// one, as its test computes. Nothing when the curve has no peak or not both frequencies, when
/// sqrt(f1 f2) is not the peak's frequency within 10 % (no single resonance then), or when the
/// noise of the data leaves f2 - f1 open by more than 10 %.
std::optional<DriverParameters> driver_by_recipe(const ImpedanceCurve& curve,
                                                 std::optional<double> dc_ohm = {});

/// Driver parameters where there is a moving coil, and in words why it is taken for one or not.
struct DriverReading {
  std::optional<DriverParameters> driver;
  std::string why;
};

/// From the resonance of the fitted circuit that makes the lowest peak of |Z|, so without the
/// coil's bias. No driver when the circuit does not follow the curve within 0.5 % (or its noise),
/// when it has more than two branches, when there is no such resonance, its branch has a capacitor
/// in series or is not the only one without, its resistance is below a tenth of that in series, its
/// Q is above 50, or the coil's impedance there is above 9 % of the resistance: then it is no
/// moving coil's. (An armature's coil is wound around iron. The limits are common practice, no
/// source.)
DriverReading read_driver(const PassiveFit& fit, const ImpedanceCurve& curve);

}  // namespace ohmtilt
