#include <ohmtilt/base/error.h>
#include <ohmtilt/base/text.h>
#include <ohmtilt/design/pad_limits.h>
#include <cmath>

namespace ohmtilt {
namespace {

void check_limit(const std::optional<double>& limit, const char* what) {
  if (limit && !(*limit > 0 && std::isfinite(*limit)))
    throw InputError("a limit of " + number_text(*limit) + " for " + what + " is none",
                     "give a positive number");
}

}  // namespace

void check_limits(const PadLimits& limits) {
  check_limit(limits.span_db, "the span");
  check_limit(limits.output_ohm, "the output impedance");
  check_limit(limits.input_ohm, "the load to the amplifier");
  check_limit(limits.dissipation_milliwatt, "the dissipation");
  check_limit(limits.noise_volt, "the noise");
  check_limit(limits.parts, "the resistors");
}

}  // namespace ohmtilt
