#pragma once
#include <string>

#include <ohmtilt/base/array.h>

namespace ohmtilt {

/// A range of frequencies in hertz, 0 < low_hz <= high_hz, ends included.
struct Band {
  double low_hz = 20;
  double high_hz = 20000;
  bool contains(double hz) const { return hz >= low_hz && hz <= high_hz; }
};

/// What two bands have in common; throws InputError naming both when that is nothing.
Band overlap(const Band& a, const Band& b);

/// Throws InputError naming the first frequency of hz that lies outside the range of the data, and
/// what data they are.
void require_within(const Band& range, const Array& hz, const std::string& data = "the data");

/// points frequencies in hertz, equally spaced in ln f over the band, both ends exact.
/// Throws InputError when points < 2 or the band is not positive and rising.
Array log_grid(const Band& band, Eigen::Index points);

/// Mean of values over ln f on a strictly rising grid, by the trapezoidal rule (exact for values
/// that are straight lines in ln f between the points); the value itself on a grid of one point.
double mean_over_ln_f(const Array& hz, const Array& values);

}  // namespace ohmtilt
