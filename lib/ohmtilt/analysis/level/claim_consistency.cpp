#include <ohmtilt/analysis/level/claim_consistency.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/text/quantities.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

/// A power point as the inequalities see it.
struct Claim {
  double siemens = 0;   ///< 1/R
  double per_volt = 0;  ///< 1/V
};

/// The lowest load first.
std::vector<Claim> claims_of(const std::vector<PowerPoint>& points) {
  std::vector<Claim> claims;
  for (const auto& point : points)
    claims.push_back({1 / point.load_ohm, 1 / std::sqrt(point.watt * point.load_ohm)});
  std::sort(claims.begin(), claims.end(),
            [](const Claim& a, const Claim& b) { return a.siemens > b.siemens; });
  return claims;
}

struct Interval {
  double low = 0, high = INFINITY;
  void at_least(double value) { low = std::max(low, value); }
  void at_most(double value) { high = std::min(high, value); }
  bool empty() const { return !(low <= high); }
};

/// Whether one current I explains the first `limited` claims and is no limit to the others.
bool current_fits(const std::vector<Claim>& claims, std::size_t limited, double factor) {
  Interval per_ampere;
  for (std::size_t i = 0; i < claims.size(); ++i) {
    const double here = claims[i].per_volt / claims[i].siemens;
    per_ampere.at_most(here * factor);
    if (i < limited) per_ampere.at_least(here / factor);
  }
  return !per_ampere.empty();
}

/// Whether one line a + b u, a and b >= 0, explains the claims after the first `limited` and is no
/// limit to these: a is eliminated, what is left are bounds of b.
bool voltage_fits(const std::vector<Claim>& claims, std::size_t limited, double factor) {
  Interval b;
  for (const Claim& above : claims) {
    const double upper = above.per_volt * factor;
    b.at_most(upper / above.siemens);
    for (std::size_t i = limited; i < claims.size(); ++i) {
      const double room = upper - claims[i].per_volt / factor;
      const double apart = above.siemens - claims[i].siemens;
      if (apart > 0) b.at_most(room / apart);
      if (apart < 0) b.at_least(room / apart);
      if (apart == 0 && room < 0) return false;
    }
  }
  return !b.empty();
}

bool explained(const std::vector<PowerPoint>& points, double error_db) {
  const auto claims = claims_of(points);
  const double factor = amplitude_from_db(error_db);
  for (std::size_t limited = 0; limited <= claims.size(); ++limited)
    if (current_fits(claims, limited, factor) && voltage_fits(claims, limited, factor)) return true;
  return false;
}

std::vector<PowerPoint> without(std::vector<PowerPoint> points, std::size_t index) {
  points.erase(points.begin() + static_cast<std::ptrdiff_t>(index));
  return points;
}

std::string point_text(const PowerPoint& point) {
  return number_text(point.watt) + " W into " + number_text(point.load_ohm) + " ohm";
}

/// Why two of them cannot both be: the lower load draws no less current and gets no more voltage.
std::string reason(const PowerPoint& low, const PowerPoint& high) {
  const double low_ampere = std::sqrt(low.watt / low.load_ohm);
  const double high_ampere = std::sqrt(high.watt / high.load_ohm);
  const bool current = low_ampere < high_ampere;
  const auto figure = [&](const PowerPoint& point) {
    return current ? significant(1000 * std::sqrt(point.watt / point.load_ohm)) + " mA"
                   : significant(std::sqrt(point.watt * point.load_ohm)) + " V";
  };
  return current ? "an amplifier that drives " + figure(high) + " through " +
                       number_text(high.load_ohm) + " ohm drives no less than that through " +
                       number_text(low.load_ohm) + " ohm, here " + figure(low)
                 : "an amplifier that brings " + figure(low) + " across " +
                       number_text(low.load_ohm) + " ohm brings no less than that across " +
                       number_text(high.load_ohm) + " ohm, here " + figure(high);
}

std::string text_of(const std::vector<PowerPoint>& points, const Contradiction& found) {
  std::vector<std::string> all;
  for (const auto& point : points) all.push_back(point_text(point));
  std::string text =
      "the power figures contradict one another: no open voltage, current limit and "
      "output resistance give " +
      listed(all) + "; the best are off by " + significant(found.error_db, 2) + " dB";
  if (points.size() == 2 && points[0].load_ohm != points[1].load_ohm) {
    const bool rising = points[0].load_ohm < points[1].load_ohm;
    return text + ", because " + reason(points[rising ? 0 : 1], points[rising ? 1 : 0]);
  }
  if (found.breaking.empty()) return text + ", and leaving out one of them does not mend it";
  std::vector<std::string> culprits;
  for (const auto index : found.breaking) culprits.push_back(point_text(points[index]));
  return text + "; without " + (culprits.size() > 1 ? "one of " : "") + listed(culprits) +
         " the others agree";
}

}  // namespace

double least_error_db(const std::vector<PowerPoint>& points) {
  double low = 0;
  double high = 1;
  while (!explained(points, high)) high *= 2;  // ends: any claims lie within some decibels
  for (int i = 0; i < 40; ++i) {
    const double middle = (low + high) / 2;
    (explained(points, middle) ? high : low) = middle;
  }
  return high;
}

std::optional<Contradiction> contradiction(const std::vector<PowerPoint>& points) {
  if (points.size() < 2 || points.size() > most_judged_points) return std::nullopt;
  if (explained(points, claim_tolerance_db)) return std::nullopt;
  Contradiction found;
  found.error_db = least_error_db(points);
  for (std::size_t i = 0; i < points.size(); ++i)
    if (explained(without(points, i), claim_tolerance_db)) found.breaking.push_back(i);
  found.text = text_of(points, found);
  return found;
}

}  // namespace ohmtilt
