#pragma once
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/analysis/deviation/deviation.h>
#include <ohmtilt/analysis/deviation/deviation_uncertainty.h>
#include <ohmtilt/analysis/deviation/span.h>
#include <ohmtilt/chain/earphone.h>
#include <ohmtilt/chain/thevenin_source.h>

namespace ohmtilt {

struct ComparisonOptions {
  Band band;                  ///< hertz; cut to where all data reach, with a warning
  Eigen::Index points = 480;  ///< 2 <= points
  Anchor anchor = AnchorFrequency{};
  std::optional<double>
      limit_db;  ///< > 0: also find the largest source that keeps the span within it
  /// What errors_of(earphone) gave, where it is asked again and again; else it is worked out.
  const CurveErrors* errors = nullptr;
};

/// What the earphone's curve leaves open, whatever the sources; nothing for a circuit.
std::optional<CurveErrors> errors_of(const Earphone& earphone);

/// What a chain does besides tilting the response.
struct ChainFigures {
  double loss_db = 0;                   ///< into the earphone at Comparison::reference_hz; negative
  std::optional<double> rated_loss_db;  ///< into its rated resistance there; nothing without one
  ComplexArray output_ohm;              ///< at the earphone's terminals, on the grid
};

/// One source against the first, on one earphone.
struct ComparedSource {
  std::string label;
  double output_ohm = 0;  ///< |output impedance| at the anchor
  Deviation deviation;
  std::optional<DeviationBand> band;  ///< for an earphone known by magnitude only
  Array response_db;                  ///< the response with this source; empty without a response
  std::optional<ChainFigures> chain;  ///< for a source that is a chain
  std::string short_label = {};       ///< for narrow places
  /// What the earphone's curve leaves open; nothing for a circuit, whose values are taken as they
  /// are.
  std::optional<DeviationInterval> interval = std::nullopt;
};

struct Comparison {
  DeviationGrid grid;
  ComplexArray load_ohm;       ///< the earphone's impedance on grid.grid_hz
  double reference_hz = 1000;  ///< where output_ohm is given
  std::string from_label;
  double from_ohm = 0;
  std::vector<ComparedSource> cases;  ///< in the order of the sources
  std::optional<LargestSource> largest_source;
  Array response_before_db;  ///< the response with the first source; empty without a response
  std::vector<std::string> warnings;
};

/// What each of the sources to does to the earphone's response, compared with from. response, where
/// given, is the earphone's response with from; otherwise the earphone's own is used where it has
/// one, and brought from the source that it was measured with to from. Throws InputError when the
/// data have no range in common or the anchor is outside it.
Comparison compare_sources(const Earphone& earphone, const TheveninSource& from,
                           const std::vector<TheveninSource>& to, const ComparisonOptions& options,
                           const std::optional<ResponseCurve>& response = std::nullopt);

}  // namespace ohmtilt
