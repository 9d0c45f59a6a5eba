#pragma once
#include <array>

#include <ohmtilt/base/array.h>

namespace ohmtilt {

/// Kinds of second-order filter that a player's equaliser has.
enum class FilterKind { peaking, low_shelf, high_shelf };
/// "peaking", "low-shelf" or "high-shelf".
const char* to_string(FilterKind kind);

/// A filter as a person sets it. Its formulas are those of the W3C Audio EQ Cookbook (Working Group
/// Note by R. Bristow-Johnson): gain_db is reached at hz by a peaking filter, at the far end by a
/// shelf, which has half of it at hz. A shelf is monotone up to q = 1/sqrt(2).
struct Filter {
  FilterKind kind = FilterKind::peaking;
  double hz = 1000;
  double gain_db = 0;
  double q = 1;
};

/// H(z) = (b0 + b1/z + b2/z^2) / (a0 + a1/z + a2/z^2), with a[0] = 1.
struct Biquad {
  std::array<double, 3> b, a;
};

/// The coefficients of filter. Throws InputError unless 0 < hz < sample_rate_hz/2, q > 0 and the
/// gain is finite.
Biquad biquad(const Filter& filter, double sample_rate_hz);

/// Frequencies (hertz, 0 to sample_rate_hz/2) as a sampled filter sees them: squared sine and
/// cosine of half the angle, which lose no digits at low frequencies.
struct SampledGrid {
  SampledGrid(const Array& hz, double sample_rate_hz);
  double sample_rate_hz;
  Array sine_squared, cosine_squared;
};

/// Gain of filter in dB, one value a frequency; exact at 0, hz and half the sample rate.
Array response_db(const Filter& filter, const SampledGrid& grid);

/// The same with its derivatives by what can be set.
struct FilterSlopes {
  Array db;
  Array by_ln_hz, by_gain_db, by_ln_q;  ///< in dB, dB per dB, dB
};
FilterSlopes response_slopes(const Filter& filter, const SampledGrid& grid);

}  // namespace ohmtilt
