#pragma once
#include <ohmtilt/analysis/deviation/deviation.h>
#include <ohmtilt/curve/impedance_curve.h>

namespace ohmtilt {

/// What a measured curve leaves open of an impedance, one value a frequency of
/// DeviationGrid::all_hz().
struct LoadUncertainty {
  Array ohm;    ///< one standard uncertainty per axis
  Array place;  ///< where among the curve's points: 2.5 is halfway between its third and fourth
};

/// The curve's uncertainty at grid.all_hz(), where the impedance is load_ohm: relative to |Z| it
/// lies between that of the neighbouring points. curve.has_uncertainty() must hold.
LoadUncertainty load_uncertainty(const ImpedanceCurve& curve, const DeviationGrid& grid,
                                 const ComplexArray& load_ohm);

/// One standard uncertainty of Deviation::deviation_db by linear propagation ([GUM2008] 5.2): d is
/// (20/ln 10) Re ln((Z+Zfrom)/(Z+Zto)) less the anchor's, and with s = 1/(Z+Zfrom) - 1/(Z+Zto) its
/// derivatives with respect to Re Z and Im Z are (20/ln 10) Re s and -(20/ln 10) Im s, so that a
/// circular error counts with |s|.
///
/// A curve does not say how its errors hang together. Here two frequencies are independent from
/// one data step apart and alike to the degree in which they share a step, so that at the anchor
/// itself nothing is left; within an anchor band all errors count as alike. For resistive sources
/// this covers a common error of scale (the reference resistor's) too: its two parts, at the
/// frequency and at the anchor, then have one sign and partly cancel.
Array standard_uncertainty_db(const DeviationGrid& grid, const ComplexArray& load_ohm,
                              const LoadUncertainty& uncertainty, const TheveninSamples& from,
                              const TheveninSamples& to);

}  // namespace ohmtilt
