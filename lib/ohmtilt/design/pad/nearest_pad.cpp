#include <ohmtilt/design/pad/nearest_pad.h>
#include <algorithm>
#include <cmath>
#include <utility>

namespace ohmtilt {
namespace {

constexpr double widest_within_db = 200;
constexpr double most_searched_again = 1e7;  // combinations
constexpr long few_samples = 10;             // while looking; the pad chosen gets those asked for

double worst(const std::vector<LimitExcess>& excesses) {
  double times = 1;
  for (const auto& excess : excesses) times = std::max(times, excess.times);
  return times;
}

}  // namespace

std::optional<NearestPad> nearest_pad(const PadSite& site, PadSearchOptions how) {
  if (combination_count(how) > most_searched_again) return {};
  const PadLimits limits = std::exchange(how.limits, {});
  how.dominated_too = false;
  const long samples = std::exchange(how.draws.samples, few_samples);
  PadSearch found = search_pads(site, how);
  const bool has_attenuation = !found.candidates.empty();
  while (found.candidates.empty() && how.target.within_db < widest_within_db) {
    how.target.within_db = std::min(2 * how.target.within_db, widest_within_db);
    found = search_pads(site, how);
  }
  if (found.candidates.empty()) return {};
  const auto distance = [&](const PadCandidate& one) {
    return has_attenuation ? worst(exceeded(one, limits)) : std::abs(one.attenuation_error_db);
  };
  const auto best =
      std::min_element(found.candidates.begin(), found.candidates.end(),
                       [&](const auto& a, const auto& b) { return distance(a) < distance(b); });
  how.draws.samples = samples;
  const PadCandidate shown = evaluate_pads(site, {best->pad}, how).candidates[0];
  return NearestPad{shown, has_attenuation ? exceeded(shown, limits) : std::vector<LimitExcess>{}};
}

}  // namespace ohmtilt
