#include <ohmtilt/analysis/deviation/span.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <boost/math/tools/minima.hpp>
#include <boost/math/tools/roots.hpp>
#include <cmath>

namespace ohmtilt {
namespace {

constexpr double highest_ohm = 1e6;
constexpr int steps_a_decade = 200;

/// Rounding in a deviation moves a crossing by less than this share of it: what is returned keeps
/// within the limit however the deviation is worked out.
constexpr double safe_share = 1e-10;

/// The crossing between two resistances, the first within the limit and the second beyond it.
double crossing(const SpanOverResistance& span, double limit_db, double within, double beyond) {
  const auto excess = [&](double ohm) { return span.span_db(ohm) - limit_db; };
  const double low = excess(within);
  const double high = excess(beyond);
  if (high <= 0) return beyond;
  if (low >= 0) return within;
  std::uintmax_t iterations = 100;
  return boost::math::tools::toms748_solve(excess, within, beyond, low, high,
                                           boost::math::tools::eps_tolerance<double>(50),
                                           iterations)
      .first;
}

double kept_within(double crossing_ohm, double start_ohm) {
  return start_ohm + (crossing_ohm - start_ohm) * (1 - safe_share);
}

/// The resistance of the highest span between low and high (Brent's method).
double peak_between(const SpanOverResistance& span, double low, double high) {
  const auto negative = [&](double ohm) { return -span.span_db(ohm); };
  return boost::math::tools::brent_find_minima(negative, low, high, 40).first;
}

}  // namespace

LargestSource largest_source(const SpanOverResistance& span, double start_ohm, double limit_db) {
  if (!(limit_db > 0) || !std::isfinite(limit_db))
    throw InputError("a limit of " + number_text(limit_db) + " dB is not allowed",
                     "give a positive number of decibels");
  LargestSource result{limit_db, std::nullopt, span.span_db(start_ohm) > limit_db};
  if (result.start_exceeds) return result;
  const double ratio = std::pow(10.0, 1.0 / steps_a_decade);
  double before = start_ohm;
  double here = start_ohm;
  double before_db = span.span_db(here);
  double here_db = before_db;
  for (double step = 1e-3; here < highest_ohm; step *= ratio) {
    const double next = std::min(start_ohm + step, highest_ohm);
    const double next_db = span.span_db(next);
    if (here_db > before_db && here_db > next_db) {
      const double peak = peak_between(span, before, next);
      if (span.span_db(peak) > limit_db) {
        result.ohm = kept_within(crossing(span, limit_db, before, peak), start_ohm);
        return result;
      }
    }
    if (next_db > limit_db) {
      result.ohm = kept_within(crossing(span, limit_db, here, next), start_ohm);
      return result;
    }
    before = here;
    before_db = here_db;
    here = next;
    here_db = next_db;
  }
  return result;
}

}  // namespace ohmtilt
