#include <ohmtilt/design/pad/pad_limits.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <cmath>

namespace ohmtilt {
namespace {

void check_limit(const std::optional<double>& limit, const char* what) {
  if (limit && !(*limit > 0 && std::isfinite(*limit)))
    throw InputError("a limit of " + number_text(*limit) + " is not allowed for " + what,
                     "give a positive number");
}

std::optional<double> allowed(const PadLimits& limits, PadLimit limit) {
  switch (limit) {
    case PadLimit::span:
      return limits.span_db;
    case PadLimit::output:
      return limits.output_ohm;
    case PadLimit::input:
      return limits.input_ohm;
    case PadLimit::dissipation:
      return limits.dissipation_milliwatt;
    case PadLimit::noise:
      return limits.noise_volt;
    case PadLimit::parts:
      return limits.parts;
  }
  return {};
}

bool is_least(PadLimit limit) { return limit == PadLimit::input; }

}  // namespace

void check_limits(const PadLimits& limits) {
  check_limit(limits.span_db, "the span");
  check_limit(limits.output_ohm, "the output impedance");
  check_limit(limits.input_ohm, "the load to the amplifier");
  check_limit(limits.dissipation_milliwatt, "the dissipation");
  check_limit(limits.noise_volt, "the noise");
  check_limit(limits.parts, "the resistors");
}

bool keeps(const PadLimits& limits, const LimitedFigure& figure) {
  const auto limit = allowed(limits, figure.limit);
  if (!limit) return true;
  return is_least(figure.limit) ? figure.value >= *limit : figure.value <= *limit;
}

std::vector<LimitExcess> exceeded(const std::vector<LimitedFigure>& figures,
                                  const PadLimits& limits) {
  std::vector<LimitExcess> result;
  for (const auto& figure : figures) {
    if (keeps(limits, figure)) continue;
    const double limit = *allowed(limits, figure.limit);
    result.push_back({figure.limit, figure.value, limit,
                      is_least(figure.limit) ? limit / figure.value : figure.value / limit});
  }
  return result;
}

}  // namespace ohmtilt
