#include <ohmtilt/analysis/level/power_claims.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <cmath>
#include <tuple>

namespace ohmtilt {
namespace {

double volt_of(const PowerPoint& point) { return std::sqrt(point.watt * point.load_ohm); }
double ampere_of(const PowerPoint& point) { return std::sqrt(point.watt / point.load_ohm); }

bool is_continuous(const PowerPoint& point) { return point.duration_ms == continuous_ms; }

// ---- conditions --------------------------------------------------------------------------------

std::string duration_text(const PowerPoint& point) {
  if (!point.duration_ms) return "duration not stated";
  return is_continuous(point) ? "continuous" : number_text(*point.duration_ms) + " ms burst";
}

std::string distortion_text(const PowerPoint& point) {
  return point.distortion_percent ? number_text(*point.distortion_percent) + " % distortion"
                                  : "distortion not stated";
}

std::string balance_text(bool balanced) { return balanced ? "balanced" : "single-ended"; }

/// The conditions of a point, each in words; two points compare only where all are equal.
std::vector<std::string> conditions(const PowerPoint& point, bool source_balanced) {
  const std::string supply = printable(point.supply, 60);
  return {duration_text(point), distortion_text(point),
          balance_text(point.balanced.value_or(source_balanced)),
          supply.empty() ? "supply not stated" : "supply " + supply};
}

std::string difference(const std::vector<std::string>& its, const std::vector<std::string>& ours) {
  std::vector<std::string> words;
  for (std::size_t i = 0; i < its.size(); ++i)
    if (its[i] != ours[i]) words.push_back(its[i] + " instead of " + ours[i]);
  return listed(words);
}

/// The point whose conditions the limits are fitted for.
const PowerPoint& reference_point(const std::vector<PowerPoint>& claims, bool balanced) {
  const auto worth = [&](const PowerPoint& point) {
    const auto same = std::count_if(claims.begin(), claims.end(), [&](const PowerPoint& other) {
      return conditions(other, balanced) == conditions(point, balanced);
    });
    return std::tuple(is_continuous(point), point.duration_ms.has_value(), same);
  };
  return *std::max_element(
      claims.begin(), claims.end(),
      [&](const PowerPoint& a, const PowerPoint& b) { return worth(a) < worth(b); });
}

// ---- the fit -----------------------------------------------------------------------------------

struct Candidate {
  SourceLimits limits;
  bool output_fitted = false;
  int parameters = 0;
  double rms_error_db = 0;
};

double rms_error_db(const SourceLimits& limits, const std::vector<PowerPoint>& points) {
  double sum = 0;
  for (const auto& point : points) {
    const double db = db_from_power(largest_power(limits, point.load_ohm).watt / point.watt);
    sum += db * db;
  }
  return std::sqrt(sum / static_cast<double>(points.size()));
}

/// 1/V = 1/E + (Ro/E)/R is a straight line over 1/R; least squares in relative error.
std::optional<SourceLimits> line_fit(const std::vector<PowerPoint>& points) {
  double n = 0, x = 0, y = 0, xx = 0, xy = 0;
  for (const auto& point : points) {
    const double weight = point.watt * point.load_ohm;  // (1 / (1/V))^2
    const double u = 1 / point.load_ohm;
    const double v = 1 / volt_of(point);
    n += weight, x += weight * u, y += weight * v, xx += weight * u * u, xy += weight * u * v;
  }
  const double determinant = n * xx - x * x;
  if (!(determinant > 1e-12 * n * xx)) return std::nullopt;  // all into one load
  const double slope = (n * xy - x * y) / determinant;
  const double intercept = (y - slope * x) / n;
  if (!(intercept > 0)) return std::nullopt;
  return SourceLimits{1 / intercept, std::max(0.0, slope / intercept), std::nullopt};
}

/// E for a known Ro: the mean in dB of what each point asks for.
SourceLimits level_fit(const std::vector<PowerPoint>& points, double output_ohm) {
  double sum = 0;
  for (const auto& point : points)
    sum += std::log(volt_of(point) * (1 + output_ohm / point.load_ohm));
  return {std::exp(sum / static_cast<double>(points.size())), output_ohm, std::nullopt};
}

double mean_ampere(const std::vector<PowerPoint>& points) {
  double sum = 0;
  for (const auto& point : points) sum += std::log(ampere_of(point));
  return std::exp(sum / static_cast<double>(points.size()));
}

/// The limits when the lowest `limited` loads (points rise in load) are limited by current.
std::optional<Candidate> candidate(const std::vector<PowerPoint>& points, std::size_t limited,
                                   bool fit_output, const StatedSource& stated) {
  const auto middle = points.begin() + static_cast<std::ptrdiff_t>(limited);
  const std::vector<PowerPoint> by_current(points.begin(), middle);
  const std::vector<PowerPoint> by_voltage(middle, points.end());
  if (by_voltage.empty() && (fit_output || !stated.open_volt)) return std::nullopt;
  if (fit_output && (points.size() < 3 || by_voltage.size() < 2)) return std::nullopt;
  Candidate result;
  result.output_fitted = fit_output;
  if (by_voltage.empty()) {
    result.limits = {*stated.open_volt, stated.output_ohm, std::nullopt};
  } else if (fit_output) {
    const auto line = line_fit(by_voltage);
    if (!line) return std::nullopt;
    result.limits = *line;
  } else {
    result.limits = level_fit(by_voltage, stated.output_ohm);
  }
  if (!by_current.empty()) result.limits.max_ampere = mean_ampere(by_current);
  result.parameters = !by_voltage.empty() + fit_output + !by_current.empty();
  result.rms_error_db = rms_error_db(result.limits, points);
  return result;
}

/// Whether a explains the points better than b: by error, or as well and more simply. Where only
/// one point speaks, an open voltage far below the stated one means that current ruled.
bool explains_better(const Candidate& a, const Candidate& b, const StatedSource& stated) {
  constexpr double same_db = 0.02;
  if (std::abs(a.rms_error_db - b.rms_error_db) > same_db) return a.rms_error_db < b.rms_error_db;
  const auto sags = [&](const Candidate& c) {
    return stated.open_volt && c.limits.open_volt < 0.9 * *stated.open_volt;
  };
  if (a.parameters == b.parameters && sags(a) != sags(b)) return !sags(a);
  return a.parameters < b.parameters;
}

Candidate best_fit(std::vector<PowerPoint> points, const StatedSource& stated) {
  std::stable_sort(points.begin(), points.end(), [](const PowerPoint& a, const PowerPoint& b) {
    return a.load_ohm < b.load_ohm;
  });
  std::optional<Candidate> best;
  for (std::size_t limited = 0; limited <= points.size(); ++limited)
    for (const bool fit_output : {false, true})
      if (const auto next = candidate(points, limited, fit_output, stated))
        if (!best || explains_better(*next, *best, stated)) best = next;
  return *best;
}

// ---- what each point says ----------------------------------------------------------------------

JudgedPoint judged(const PowerPoint& claim, const PowerClaims& fit,
                   const std::vector<std::string>& ours, const PowerPoint& reference,
                   const StatedSource& stated) {
  JudgedPoint point{claim, Limit::voltage, 0, true, {}, std::nullopt};
  const LimitedPower power = largest_power(fit.limits, claim.load_ohm);
  point.limited_by = power.limited_by;
  point.predicted_watt = power.watt;
  point.difference = difference(conditions(claim, stated.balanced), ours);
  if (point.difference.empty() && !claim.duration_ms) point.difference = duration_text(claim);
  point.comparable = point.difference.empty();
  if (claim.duration_ms && !is_continuous(claim) && is_continuous(reference))
    point.burst_gain_db = db_from_power(claim.watt / power.watt);
  return point;
}

std::string refusal(const JudgedPoint& point) {
  return "the power into " + number_text(point.claim.load_ohm) +
         " ohm is not ranked with the others: " + point.difference;
}

/// The first set of equal conditions, durations stated, that contradicts itself.
std::optional<Contradiction> first_contradiction(const std::vector<PowerPoint>& claims,
                                                 bool balanced) {
  std::vector<bool> seen(claims.size(), false);
  for (std::size_t first = 0; first < claims.size(); ++first) {
    if (seen[first] || !claims[first].duration_ms) continue;
    std::vector<PowerPoint> alike;
    std::vector<std::size_t> places;
    for (std::size_t i = first; i < claims.size(); ++i) {
      if (conditions(claims[i], balanced) != conditions(claims[first], balanced)) continue;
      seen[i] = true;
      alike.push_back(claims[i]);
      places.push_back(i);
    }
    auto found = contradiction(alike);
    if (!found) continue;
    for (auto& index : found->breaking) index = places[index];
    return found;
  }
  return std::nullopt;
}

}  // namespace

const char* to_string(Limit limit) {
  constexpr const char* names[] = {"voltage", "current", "earphone"};
  return names[static_cast<std::size_t>(limit)];
}

LimitedPower largest_power(const SourceLimits& limits, double load_ohm) {
  const double by_voltage = limits.open_volt / (load_ohm + limits.output_ohm);
  // A point that was fitted as current-limited lies on the limit to rounding.
  const bool current = limits.max_ampere && *limits.max_ampere < by_voltage;
  const double ampere = current ? *limits.max_ampere : by_voltage;
  return {ampere * ampere * load_ohm, current ? Limit::current : Limit::voltage};
}

PowerClaims fit_power_claims(const std::vector<PowerPoint>& claims, const StatedSource& stated) {
  if (claims.empty()) throw InputError("there is no power point to fit", "give one");
  const PowerPoint& reference = reference_point(claims, stated.balanced);
  const auto ours = conditions(reference, stated.balanced);
  std::vector<PowerPoint> comparable;
  for (const auto& claim : claims)
    if (conditions(claim, stated.balanced) == ours) comparable.push_back(claim);
  const Candidate fit = best_fit(comparable, stated);
  PowerClaims result;
  result.limits = fit.limits;
  result.output_fitted = fit.output_fitted;
  result.rms_error_db = fit.rms_error_db;
  result.conditions = listed(ours);
  for (const auto& claim : claims) {
    result.points.push_back(judged(claim, result, ours, reference, stated));
    if (!result.points.back().comparable) result.warnings.push_back(refusal(result.points.back()));
  }
  result.contradiction = first_contradiction(claims, stated.balanced);
  if (result.contradiction) result.warnings.push_back(result.contradiction->text);
  if (claims.size() > most_judged_points)
    result.warnings.push_back("more than " + std::to_string(most_judged_points) +
                              " power points: whether they contradict one another was not checked");
  return result;
}

}  // namespace ohmtilt
