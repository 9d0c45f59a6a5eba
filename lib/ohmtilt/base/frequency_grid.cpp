#include <ohmtilt/base/frequency_grid.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>

#include <cmath>

namespace ohmtilt {
namespace {

std::string band_text(const Band& band) {
  return number_text(band.low_hz) + " to " + number_text(band.high_hz) + " Hz";
}

}  // namespace

Band overlap(const Band& a, const Band& b) {
  const Band both{std::max(a.low_hz, b.low_hz), std::min(a.high_hz, b.high_hz)};
  if (!(both.low_hz < both.high_hz))
    throw InputError(band_text(a) + " and " + band_text(b) + " have no range in common",
                     "use data that overlap, or another band");
  return both;
}

void require_within(const Band& range, const Array& hz, const std::string& data) {
  for (const double f : hz)
    if (!range.contains(f))
      throw InputError(
          number_text(f) + " Hz is outside " + data + ", which reach from " + band_text(range),
          "ask within them");
}

Array log_grid(const Band& band, Eigen::Index points) {
  if (!(band.low_hz > 0 && band.low_hz < band.high_hz && std::isfinite(band.high_hz)))
    throw InputError("the band " + band_text(band) + " is not allowed",
                     "give two positive frequencies in hertz, the lower first");
  if (points < 2)
    throw InputError("a number of points of " + std::to_string(points) + " is not allowed",
                     "give 2 points or more");
  Array hz = Array::LinSpaced(points, std::log(band.low_hz), std::log(band.high_hz)).exp();
  hz[0] = band.low_hz;
  hz[points - 1] = band.high_hz;
  return hz;
}

double mean_over_ln_f(const Array& hz, const Array& values) {
  const Eigen::Index n = hz.size();
  if (n == 1) return values[0];
  const Array ln_f = hz.log();
  const Array widths = ln_f.tail(n - 1) - ln_f.head(n - 1);
  const Array middles = (values.tail(n - 1) + values.head(n - 1)) / 2;
  return (widths * middles).sum() / (ln_f[n - 1] - ln_f[0]);
}

}  // namespace ohmtilt
