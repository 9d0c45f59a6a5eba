#include <fmt/format.h>

#include <ohmtilt/base/text.h>
#include <tools/ohmtilt/pad_limits.h>
#include <tools/ohmtilt/wording.h>
#include <algorithm>
#include <cmath>
#include <utility>

namespace ohmtilt::cli {
namespace {

constexpr double widest_within_db = 200;
constexpr double most_searched_again = 1e7;  // combinations
constexpr long few_samples = 10;             // while looking; the pad chosen gets those asked for

/// What can be limited, of a pad or of a step of a switch.
struct Limited {
  double span_db, output_ohm, input_min_ohm, hottest_milliwatt, noise_volt;
};

double largest(const std::vector<double>& values) {
  return *std::max_element(values.begin(), values.end());
}

std::vector<LimitFault> faults_of(const Limited& it, const PadLimits& limits) {
  std::vector<LimitFault> faults;
  const auto text = [](double value, const char* unit) { return significant(value) + " " + unit; };
  const auto at_most = [&](const char* what, double value, const std::optional<double>& limit,
                           double scale, const char* unit) {
    if (limit && value > *limit)
      faults.push_back({what,
                        fmt::format("{} {}, at most {}", what, text(scale * value, unit),
                                    text(scale * *limit, unit)),
                        value / *limit});
  };
  at_most("span", it.span_db, limits.span_db, 1, "dB");
  at_most("output impedance", it.output_ohm, limits.output_ohm, 1, "ohm");
  if (limits.input_ohm && it.input_min_ohm < *limits.input_ohm)
    faults.push_back({"load",
                      fmt::format("load to the amplifier {}, at least {}",
                                  ohm_text(it.input_min_ohm), ohm_text(*limits.input_ohm)),
                      *limits.input_ohm / it.input_min_ohm});
  at_most("heat in a resistor", it.hottest_milliwatt, limits.dissipation_milliwatt, 1, "mW");
  at_most("noise", it.noise_volt, limits.noise_volt, 1e6, "uV");
  return faults;
}

std::vector<LimitFault> parts_fault(int parts, const PadLimits& limits) {
  if (!limits.parts || parts <= *limits.parts) return {};
  return {{"parts", fmt::format("{} resistors, at most {}", parts, *limits.parts),
           double(parts) / *limits.parts}};
}

double worst(const std::vector<LimitFault>& faults) {
  double times = 1;
  for (const auto& fault : faults) times = std::max(times, fault.times);
  return times;
}

}  // namespace

std::vector<LimitFault> limit_faults(const PadCandidate& pad, const PadLimits& limits) {
  auto faults = faults_of({pad.span_db, pad.output_ohm, pad.input_min_ohm,
                           largest(pad.dissipation_milliwatt), pad.noise_volt_a_weighted},
                          limits);
  for (auto& fault : parts_fault(resistor_count(pad.pad.topology), limits))
    faults.push_back(std::move(fault));
  return faults;
}

std::vector<LimitFault> limit_faults(const SwitchedAttenuator& ladder, const PadLimits& limits) {
  std::vector<LimitFault> all;
  for (const auto& step : ladder.steps)
    for (auto fault : faults_of({step.span_db, step.output_ohm, step.input_min_ohm,
                                 largest(step.dissipation_milliwatt), step.noise_volt_a_weighted},
                                limits)) {
      fault.text += " (step of " + number_text(step.asked_db) + " dB)";
      const auto same = std::find_if(all.begin(), all.end(),
                                     [&](const auto& one) { return one.what == fault.what; });
      if (same == all.end())
        all.push_back(std::move(fault));
      else if (same->times < fault.times)
        *same = std::move(fault);
    }
  for (auto& fault : parts_fault(static_cast<int>(ladder.ohm.size()), limits))
    all.push_back(std::move(fault));
  return all;
}

std::string said(const std::vector<LimitFault>& faults) {
  std::string text;
  for (const auto& fault : faults) text += (text.empty() ? "" : "; ") + fault.text;
  return text;
}

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
  const auto excess = [&](const PadCandidate& one) {
    return has_attenuation ? worst(limit_faults(one, limits)) : std::abs(one.attenuation_error_db);
  };
  const auto best =
      std::min_element(found.candidates.begin(), found.candidates.end(),
                       [&](const auto& a, const auto& b) { return excess(a) < excess(b); });
  how.draws.samples = samples;
  const PadCandidate shown = evaluate_pads(site, {best->pad}, how).candidates[0];
  return NearestPad{shown,
                    has_attenuation ? limit_faults(shown, limits) : std::vector<LimitFault>{}};
}

}  // namespace ohmtilt::cli
