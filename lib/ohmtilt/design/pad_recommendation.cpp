#include <ohmtilt/base/text.h>
#include <ohmtilt/design/pad_search.h>

#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

constexpr double close_db = 0.1;

std::string tenths(double value) { return number_text(std::round(value * 10) / 10); }
std::string hundredths(double value) { return number_text(std::round(value * 100) / 100); }

double closest_error_db(const std::vector<PadCandidate>& candidates) {
  double closest = INFINITY;
  for (const auto& one : candidates)
    closest = std::min(closest, std::abs(one.attenuation_error_db));
  return closest;
}

}  // namespace

PadChoice recommended_pad(const std::vector<PadCandidate>& candidates,
                          const AmplifierNeeds& needs) {
  if (candidates.empty()) return {};
  const double within_db = std::max(close_db, closest_error_db(candidates));
  PadChoice gentle, lightest;  // the smallest span of those that load no more; the lightest load
  for (std::size_t i = 0; i < candidates.size(); ++i) {
    const PadCandidate& one = candidates[i];
    if (!one.pareto || std::abs(one.attenuation_error_db) > within_db) continue;
    if (!lightest.index || one.input_min_ohm > candidates[*lightest.index].input_min_ohm)
      lightest.index = i;
    if (one.input_min_ohm < needs.load_min_ohm) continue;
    if (needs.max_ampere && one.largest_ampere > *needs.max_ampere) continue;
    if (!gentle.index || one.span_db < candidates[*gentle.index].span_db) gentle.index = i;
  }
  const std::string closeness = "Of the pads on the front that come within " +
                                hundredths(within_db) + " dB of what was asked for, ";
  const std::string load = tenths(needs.load_min_ohm) + " ohm";
  const std::string current =
      needs.max_ampere ? " and ask for no more than its " + tenths(1000 * *needs.max_ampere) + " mA"
                       : "";
  if (gentle.index) {
    gentle.reason = closeness + "it has the smallest span (" +
                    hundredths(candidates[*gentle.index].span_db) +
                    " dB) of those that load the amplifier no more than the earphone alone does (" +
                    load + ")" + current + ".";
    return gentle;
  }
  lightest.reason = closeness + "it loads the amplifier least: none keeps its load above the " +
                    load + " of the earphone alone" +
                    (needs.max_ampere ? " and its current within the limit" : "") + ".";
  return lightest;
}

}  // namespace ohmtilt
