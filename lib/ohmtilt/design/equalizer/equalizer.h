#pragma once
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/analysis/deviation/deviation.h>
#include <ohmtilt/design/equalizer/biquad.h>

namespace ohmtilt {

struct EqualizerOptions {
  int filters = 5;                ///< at most; 0 to 20
  double sample_rate_hz = 48000;  ///< of the player; 8000 to 768000
  bool cut_only = false;          ///< no filter raises anything
  double largest_gain_db = 12;    ///< of one filter, up or down
  double lowest_q = 0.2;          ///< of peaking filters; shelves have 0.3 to 1/sqrt(2)
  double highest_q = 10;
  std::optional<Band> filter_band;  ///< hertz, where filters may lie; nothing: where the data reach
  double enough_rms_db = 0.01;      ///< no filter is added to a residual of less
  double least_improvement = 0.02;  ///< a filter must lower the rms residual by this fraction
};

/// What is left of a curve without its level.
struct Residual {
  Array db;  ///< less its mean over ln f
  double span_db = 0;
  double rms_db = 0;  ///< over ln f
};
Residual residual_of(const Array& hz, const Array& db);

/// Filters that undo a deviation. Arrays have one value a frequency.
struct Equalizer {
  std::vector<Filter> filters;  ///< first those that lower, then those that raise; each by hertz
  double lead_level_db = 0;  ///< <= 0: level before the filters, so that no steady tone leaves any
                             ///< of them above full scale
  double level_change_db = 0;  ///< mean over ln f of the correction, lead_level_db included
  Array frequency_hz;          ///< what was given, up to half the sample rate
  Array deviation_db;          ///< there
  Array correction_db;         ///< of all filters, without lead_level_db
  Residual residual;           ///< deviation plus correction
  std::vector<std::string> warnings;
};

/// The filters that leave the smallest rms residual over ln f of deviation_db (any anchor: its mean
/// does not matter). They are found one by one, each where it takes most away, and refined
/// together; fewer than allowed where more would hardly help. Of sets that leave about the same
/// error the one with the smaller gains is taken, and with cut_only the one that loses less level.
/// As those that lower come first, the level after any number of the filters nowhere exceeds the
/// higher of 0 dB and the highest gain of all together: a filter that lowers (a shelf of a Q up to
/// 1/sqrt(2) included) raises nothing anywhere, and the other way round. Filters lie within the
/// given frequencies and below 0.45 of the sample rate. Throws InputError for options out of range
/// or when fewer than four of the frequencies lie below that.
Equalizer equalize(const Array& hz, const Array& deviation_db, const EqualizerOptions& options);

/// Sum of the filters' gains in dB, one value a frequency.
Array sum_db(const std::vector<Filter>& filters, const SampledGrid& grid);

/// The highest gain of all filters together from 0 to half the sample rate.
Extreme highest_gain(const std::vector<Filter>& filters, double sample_rate_hz);

}  // namespace ohmtilt
