#pragma once
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include <ohmtilt/base/frequency_grid.h>
#include <ohmtilt/chain/thevenin_source.h>

namespace ohmtilt {

/// Where two responses are made equal.
struct AnchorFrequency {
  double hz = 1000;
};
struct AnchorBand {  ///< the mean over ln f between the two, which both count
  double low_hz = 300;
  double high_hz = 3000;
};
struct NoAnchor {};  ///< the deviation is the change of level itself
using Anchor = std::variant<AnchorFrequency, AnchorBand, NoAnchor>;

/// The frequencies one deviation is worked out at: the grid it is reported on, and those that the
/// anchor needs (one, a fine grid over a band, or none).
struct DeviationGrid {
  Array grid_hz;
  Array anchor_hz;
  Anchor anchor;
  /// grid_hz then anchor_hz: what to evaluate impedances at.
  Array all_hz() const;
};

/// The first count values: of samples at all_hz(), those on the grid.
TheveninSamples head(const TheveninSamples& samples, Eigen::Index count);

/// points equally spaced in ln f over what band and data have in common. Throws InputError when
/// that is nothing, or when the anchor is outside the data.
DeviationGrid deviation_grid(const Band& band, Eigen::Index points, const Anchor& anchor,
                             const Band& data);

/// The frequency at which a figure "at the anchor" is given: the anchor, the geometric mean of a
/// band, or without an anchor 1 kHz (the nearest end of the grid if that lies outside).
double reference_hz(const DeviationGrid& grid);

struct Extreme {
  double hz = 0;
  double db = 0;
};

/// What one source does instead of another. Arrays have one value a grid frequency. Words as in
/// the project's formats: positive is louder than before.
struct Deviation {
  Array deviation_db;          ///< the change of the response, zero at the anchor
  double level_change_db = 0;  ///< what the anchor took away
  Extreme rise, fall;          ///< largest and smallest deviation
  double span_db = 0;          ///< rise less fall
  double rms_db = 0;           ///< over ln f
  double erb_span_db = 0;      ///< span after averaging power over one ERB
  /// Largest span of any earphone whose |Z| is nowhere below the lowest one here, whatever its
  /// phase; 20 lg(1 + Rto/|Z|min) between 0 ohm and a resistance. Infinite where a reactive load
  /// can resonate with a source without loss.
  double bound_db = 0;
};

/// D(f) = 20 lg |Z/(Z+Zto)| - 20 lg |Z/(Z+Zfrom)| less its value at the anchor: exact for a linear
/// one-port behind a Thevenin source, because all drivers of an earphone share its terminals.
/// load_ohm is the complex impedance at grid.all_hz().
Deviation deviation(const DeviationGrid& grid, const ComplexArray& load_ohm,
                    const TheveninSamples& from, const TheveninSamples& to);

/// The numbers of a Deviation that need no curve.
struct DeviationSummary {
  double level_change_db = 0;
  double rise_db = 0, fall_db = 0;  ///< largest and smallest deviation
  double span_db() const { return rise_db - fall_db; }
};

/// deviation() of one earphone against many sources, where the numbers are enough: what it has in
/// common is worked out once, and each source costs one pass and three logarithms.
class DeviationSummaries {
 public:
  /// Arguments as those of deviation().
  DeviationSummaries(const DeviationGrid& grid, const ComplexArray& load_ohm,
                     const TheveninSamples& from);
  DeviationSummary against(const TheveninSamples& to) const;

 private:
  const DeviationGrid grid_;
  const ComplexArray load_ohm_;
  const Array from_loop_power_;
};

/// Deviation::bound_db. A passive load has y = 1/Z in the half disc Re y >= 0, |y| <= 1/|Z|min. The
/// change 20 lg |(1 + Zfrom y)/(1 + Zto y)| is harmonic inside it, so that both extremes are on its
/// edge: the arc of |Z|min at any phase, or the purely reactive loads from |Z|min up. Samples at
/// the grid's frequencies.
double worst_span_db(double lowest_ohm, const TheveninSamples& from, const TheveninSamples& to);

/// Lower and upper limit of deviation_db when only |Z| is known: phase anywhere in +-90 degrees,
/// independently at each frequency and at the anchor. magnitude_ohm is |Z| at grid.all_hz().
struct DeviationBand {
  Array lower_db, upper_db;
};
DeviationBand guaranteed_band(const DeviationGrid& grid, const Array& magnitude_ohm,
                              const TheveninSamples& from, const TheveninSamples& to);

}  // namespace ohmtilt
