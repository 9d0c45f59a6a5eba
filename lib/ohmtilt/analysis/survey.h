#pragma once
// Many earphones against many sources: which are sensitive to the source at all?
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/analysis/deviation/deviation.h>
#include <ohmtilt/analysis/deviation/span.h>
#include <ohmtilt/chain/earphone.h>
#include <ohmtilt/chain/thevenin_source.h>

namespace ohmtilt {

struct SurveyOptions {
  Band band;                  ///< hertz; of each earphone what its data and all sources cover
  Eigen::Index points = 480;  ///< 2 <= points
  Anchor anchor = AnchorFrequency{};
  double limit_db = 1;     ///< > 0: the span within which SurveyRow::largest_source stays
  bool q_changes = false;  ///< also SurveyCell::q_change_percent, which takes far longer
  std::function<void(double)> progress = nullptr;  ///< 0 to 1; from one thread at a time
};

/// One source instead of the first, on one earphone.
struct SurveyCell {
  DeviationSummary deviation;
  /// Of the resonance whose Q changes most; nothing without one, or unless it was asked for.
  std::optional<double> q_change_percent;
};

/// One earphone.
struct SurveyRow {
  std::size_t place = 0;  ///< which of the earphones
  std::string title;
  std::string label;  ///< short, that its file has; empty without
  PhaseOrigin phase = PhaseOrigin::measured;
  Band known;                     ///< what of the band is covered
  std::vector<SurveyCell> cells;  ///< one a source
  LargestSource largest_source;
  std::vector<std::string> cautions;  ///< of the bias that its drivers need
  std::vector<std::string> warnings;

  /// Mean span over the sources: how sensitive the earphone is to its source.
  double mean_span_db() const;
  double largest_span_db() const;
};

/// An earphone that could not be read or worked out.
struct SurveyFailure {
  std::size_t place = 0;
  std::string error;
};

struct SurveyedSource {
  std::string label;
  double output_ohm = 0;    ///< |output impedance| at the anchor
  bool is_number = false;   ///< given as so many ohm, and not by a file
  std::string short_label;  ///< that its file has; empty without
};

struct Survey {
  SurveyedSource from;
  std::vector<SurveyedSource> sources;
  std::vector<SurveyRow> rows;          ///< by place
  std::vector<std::size_t> ranking;     ///< of rows: the largest mean span first
  std::vector<SurveyFailure> failures;  ///< by place
  std::vector<std::string> warnings;    ///< on the sources
};

/// The earphone of one place, 0 to earphones - 1. Called from several threads at once, once a
/// place; an InputError becomes a SurveyFailure.
using EarphoneAt = std::function<Earphone(std::size_t place)>;

/// What each of the sources to does on every earphone, compared with from: the figures of
/// deviation() each on the earphone's own grid. Earphones are asked for, worked out and dropped one
/// by one, in parallel; the result depends on neither the number of threads nor their order.
/// Throws InputError where the sources themselves have nothing in common with the band or anchor.
Survey survey(std::size_t earphones, const EarphoneAt& earphone, const TheveninSource& from,
              const std::vector<TheveninSource>& to, const SurveyOptions& options = {});

}  // namespace ohmtilt
