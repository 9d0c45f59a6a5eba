#include <ohmtilt/base/error.h>
#include <ohmtilt/base/resistor_code.h>
#include <ohmtilt/base/text.h>
#include <ohmtilt/chain/thevenin_source.h>
#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/curve/minimum_phase.h>
#include <ohmtilt/curve/read_curve.h>
#include <cmath>
#include <filesystem>

namespace ohmtilt {
namespace {

TheveninSource source_from_curve(const std::filesystem::path& file) {
  auto [curve, warnings] = read_impedance(file);
  if (!curve.has_phase()) {
    warnings.push_back("the output impedance of " + printable(curve.notes().title) +
                       " has no phase; its minimum phase is used");
    curve = curve.with_phase(minimum_phase(curve).phase_deg);
  }
  return {valid_utf8(curve.notes().title), one_port(curve), nullptr, std::move(warnings)};
}

}  // namespace

TheveninSamples TheveninSource::at(const Array& hz) const {
  return {output.at(hz), open_ratio ? open_ratio(hz) : ComplexArray()};
}

TheveninSource resistive_source(double ohm) {
  if (!std::isfinite(ohm) || ohm < 0)
    throw InputError("an output impedance of " + number_text(ohm) + " ohm is not physical",
                     "give a number of ohms, 0 or more");
  return {number_text(ohm) + " ohm", OnePort::resistance(ohm), nullptr, {}};
}

TheveninSource read_source(const std::string& text) {
  if (const auto ohm = parse_number(text)) return resistive_source(*ohm);
  std::error_code ignored;
  if (std::filesystem::exists(text, ignored)) return source_from_curve(text);
  if (text.find_first_of("RKkMGL") != std::string::npos) return resistive_source(parse_resistance_code(text));
  throw InputError("\"" + printable(text) + "\" is neither a resistance nor a file that exists",
                   "give ohms (6), a code (6R0), or the name of a curve or chain file");
}

}  // namespace ohmtilt
