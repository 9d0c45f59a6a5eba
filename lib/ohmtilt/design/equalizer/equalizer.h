#pragma once
#include <string>
#include <vector>

#include <ohmtilt/analysis/deviation/deviation.h>
#include <ohmtilt/design/equalizer/biquad.h>

namespace ohmtilt {

struct EqualizerOptions {
  int filters = 5;                     ///< at most; 0 to 20
  double sample_rate_hz = 48000;       ///< of the player; 8000 to 768000
  bool cut_only = false;               ///< no filter raises anything
  double largest_gain_db = 12;         ///< of one filter, up or down
  double largest_share_of_span = 1.5;  ///< a filter's gain over the span of the deviation
  double lowest_q = 0.2;               ///< of peaking filters; shelves have 0.3 to 1/sqrt(2)
  double highest_q = 10;
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
  std::vector<Filter> filters;  ///< by rising frequency
  double preamp_db = 0;  ///< <= 0: with it, no steady tone leaves the filters above full scale
  double level_change_db = 0;  ///< mean over ln f of the correction, preamp_db included
  Array frequency_hz;          ///< what was given, up to half the sample rate
  Array deviation_db;          ///< there
  Array correction_db;         ///< of all filters, without preamp_db
  Residual residual;           ///< deviation plus correction
  std::vector<std::string> warnings;
};

/// The filters that leave the smallest rms residual over ln f of deviation_db (any anchor: its mean
/// does not matter). They are found one by one, each where it takes most away, and refined
/// together; fewer than allowed where more would hardly help. Filters lie within the given
/// frequencies and below 0.45 of the sample rate. Throws InputError for options out of range or
/// when fewer than four of the frequencies lie below that.
Equalizer equalize(const Array& hz, const Array& deviation_db, const EqualizerOptions& options);

/// Sum of the filters' gains in dB, one value a frequency.
Array sum_db(const std::vector<Filter>& filters, const SampledGrid& grid);

/// The highest gain of all filters together from 0 to half the sample rate.
Extreme highest_gain(const std::vector<Filter>& filters, double sample_rate_hz);

}  // namespace ohmtilt
