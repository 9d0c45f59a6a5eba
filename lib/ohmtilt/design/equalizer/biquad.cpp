#include <ohmtilt/design/equalizer/biquad.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <cmath>
#include <numbers>

namespace ohmtilt {
namespace {

/// The cookbook's analogue prototypes are ratios of polynomials in s (s = j at hz) whose
/// coefficients are powers of A = 10^(gain_db/40), the middle ones over Q. The powers of A:
struct Powers {
  double factor;
  std::array<double, 3> numerator, denominator;  // of s^0, s^1, s^2
};

Powers powers_of(FilterKind kind) {
  switch (kind) {
    case FilterKind::low_shelf:
      return {1, {1, 0.5, 0}, {0, 0.5, 1}};
    case FilterKind::high_shelf:
      return {1, {0, 0.5, 1}, {1, 0.5, 0}};
    case FilterKind::peaking:
      break;
  }
  return {0, {0, 1, 0}, {0, -1, 0}};
}

std::array<double, 3> polynomial(const std::array<double, 3>& powers, const Filter& filter) {
  const double a = std::pow(10, filter.gain_db / 40);
  return {std::pow(a, powers[0]), std::pow(a, powers[1]) / filter.q, std::pow(a, powers[2])};
}

double half_angle(const Filter& filter, double sample_rate_hz) {
  return std::numbers::pi * filter.hz / sample_rate_hz;
}

/// s = cot(half) (1 - 1/z) / (1 + 1/z), times sin^2(half).
std::array<double, 3> bilinear(const std::array<double, 3>& p, double half) {
  const double sine = std::sin(half);
  const double cosine = std::cos(half);
  const double outer = p[2] * cosine * cosine + p[0] * sine * sine;
  const double middle = p[1] * sine * cosine;
  return {outer + middle, 2 * (p[0] * sine * sine - p[2] * cosine * cosine), outer - middle};
}

/// s = j u/v. u2 and v2 are scaled alike at all frequencies, so neither end is infinite.
struct Squares {
  Squares(const SampledGrid& grid, double half)
      : u2(grid.sine_squared * (std::cos(half) * std::cos(half))),
        v2(grid.cosine_squared * (std::sin(half) * std::sin(half))) {}
  Array u2, v2;
};

/// |p0 v^2 + p1 j u v - p2 u^2|^2.
Array squared_magnitude(const std::array<double, 3>& p, const Squares& s) {
  return (p[0] * s.v2 - p[2] * s.u2).square() + p[1] * p[1] * s.u2 * s.v2;
}

/// ln of squared_magnitude, differentiated.
struct LogSlopes {
  Array by_ln_a, by_ln_q, by_ln_hz;
};

LogSlopes log_slopes(const std::array<double, 3>& p, const std::array<double, 3>& powers,
                     const Squares& s, double half) {
  const Array real = p[0] * s.v2 - p[2] * s.u2;
  const Array imaginary2 = p[1] * p[1] * s.u2 * s.v2;
  const Array twice_over = 2 / (real.square() + imaginary2);
  const double u_slope = -2 * half * std::tan(half);  // d ln u2 / d ln hz
  const double v_slope = 2 * half / std::tan(half);
  return {twice_over *
              (real * (powers[0] * p[0] * s.v2 - powers[2] * p[2] * s.u2) + powers[1] * imaginary2),
          -twice_over * imaginary2,
          twice_over * (real * (p[0] * v_slope * s.v2 - p[2] * u_slope * s.u2) +
                        (u_slope + v_slope) / 2 * imaginary2)};
}

constexpr double db_per_neper_of_power = 10 / std::numbers::ln10;

void check(const Filter& filter, double sample_rate_hz) {
  if (!(filter.hz > 0 && filter.hz < sample_rate_hz / 2))
    throw InputError("a filter at " + number_text(filter.hz) + " Hz cannot be made at " +
                         number_text(sample_rate_hz) + " samples a second",
                     "choose a frequency between 0 and half the sample rate");
  if (!(filter.q > 0) || !std::isfinite(filter.q) || !std::isfinite(filter.gain_db))
    throw InputError("a filter of Q " + number_text(filter.q) + " and " +
                         number_text(filter.gain_db) + " dB is not allowed",
                     "give a positive Q and a finite gain");
}

}  // namespace

const char* to_string(FilterKind kind) {
  switch (kind) {
    case FilterKind::low_shelf:
      return "low-shelf";
    case FilterKind::high_shelf:
      return "high-shelf";
    case FilterKind::peaking:
      break;
  }
  return "peaking";
}

Biquad biquad(const Filter& filter, double sample_rate_hz) {
  check(filter, sample_rate_hz);
  const Powers powers = powers_of(filter.kind);
  const double half = half_angle(filter, sample_rate_hz);
  Biquad result{bilinear(polynomial(powers.numerator, filter), half),
                bilinear(polynomial(powers.denominator, filter), half)};
  const double first = result.a[0];
  const double factor = std::pow(10, filter.gain_db / 40 * powers.factor);
  for (double& b : result.b) b *= factor / first;
  for (double& a : result.a) a /= first;
  return result;
}

SampledGrid::SampledGrid(const Array& hz, double rate_hz)
    : sample_rate_hz(rate_hz),
      sine_squared((hz * (std::numbers::pi / rate_hz)).sin().square()),
      cosine_squared((hz * (std::numbers::pi / rate_hz)).cos().square()) {}

Array response_db(const Filter& filter, const SampledGrid& grid) {
  const Powers powers = powers_of(filter.kind);
  const Squares s(grid, half_angle(filter, grid.sample_rate_hz));
  return 10 * (squared_magnitude(polynomial(powers.numerator, filter), s) /
               squared_magnitude(polynomial(powers.denominator, filter), s))
                  .log10() +
         filter.gain_db / 2 * powers.factor;
}

FilterSlopes response_slopes(const Filter& filter, const SampledGrid& grid) {
  const Powers powers = powers_of(filter.kind);
  const double half = half_angle(filter, grid.sample_rate_hz);
  const Squares s(grid, half);
  const auto above = log_slopes(polynomial(powers.numerator, filter), powers.numerator, s, half);
  const auto below =
      log_slopes(polynomial(powers.denominator, filter), powers.denominator, s, half);
  constexpr double ln_a_per_db = std::numbers::ln10 / 40;
  return {response_db(filter, grid), db_per_neper_of_power * (above.by_ln_hz - below.by_ln_hz),
          db_per_neper_of_power * ln_a_per_db * (above.by_ln_a - below.by_ln_a) + powers.factor / 2,
          db_per_neper_of_power * (above.by_ln_q - below.by_ln_q)};
}

}  // namespace ohmtilt
