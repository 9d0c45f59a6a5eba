#pragma once
#include <ohmtilt/analysis/deviation/deviation.h>
#include <ohmtilt/curve/curve_errors.h>
#include <ohmtilt/curve/impedance_curve.h>

#include <optional>
#include <vector>

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

/// Half widths of 95 % intervals of Deviation::deviation_db, one value a frequency, each of one
/// cause alone (the wider of its two sides).
struct IntervalParts {
  Array interpolation_db;  ///< between the points
  Array noise_db;          ///< as the points show it
  Array missing_phase_db;  ///< of a magnitude-only curve, from the gaps between the points
  Array band_ends_db;      ///< of a magnitude-only curve, from what lies beyond the data
  Array rounding_db;       ///< of the digits
  Array stated_db;         ///< the curve's own uncertainty, independent from point to point
  Array scale_db;          ///< the curve's own common error of scale
};

/// What widens an interval, in words.
struct IntervalCause {
  double most_db = 0;  ///< of its part, over frequency
  const char* name;    ///< "its noise"; "the gaps between its points"
  const char* needed;  ///< what would narrow it: "less noise"
};
/// All parts, the widest first.
std::vector<IntervalCause> causes(const IntervalParts& parts);

/// Between what limits the true deviation lies, given the curve.
struct DeviationInterval {
  Array lower_95_db, upper_95_db;  ///< at each frequency by itself
  double whole_95_db = 0;          ///< half width about deviation_db that holds the whole curve
  IntervalParts parts;
  /// hidden_quality(): what is not in the limits, for a curve whose points are far apart.
  std::optional<double> hidden_q = std::nullopt;
};

/// The limits that a measured curve leaves the deviation between. Independent causes add in squares
/// (GUM, JCGM 100:2008, 5.1.2), each through the derivative of the deviation, the ends' phase and
/// the scale through the deviation itself, changed by that much (JCGM 101:2008 takes whole
/// distributions; here the two sides of each). Errors of one step of the data are alike, as in
/// standard_uncertainty_db(); an end's is one for all frequencies. The coverage factors, for the
/// tails of each cause, were fitted to errors over invented earphones (tests/bench/coverage.py).
///
/// load_ohm and the samples are at grid.all_hz(); errors are those of the curve; a curve without
/// phase has its minimum phase in load_ohm.
DeviationInterval deviation_interval(const ImpedanceCurve& curve, const CurveErrors& errors,
                                     const DeviationGrid& grid, const ComplexArray& load_ohm,
                                     const TheveninSamples& from, const TheveninSamples& to);

}  // namespace ohmtilt
