#include <ohmtilt/base/text.h>
#include <ohmtilt/chain/earphone.h>
#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/curve/minimum_phase.h>
#include <ohmtilt/curve/read_curve.h>

namespace ohmtilt {

const char* to_string(PhaseOrigin phase) {
  switch (phase) {
    case PhaseOrigin::measured:
      return "measured";
    case PhaseOrigin::minimum:
      return "minimum";
    case PhaseOrigin::computed:
      return "computed";
  }
  return "";
}

Earphone earphone_from_curve(const ImpedanceCurve& curve) {
  const std::string title = valid_utf8(curve.notes().title);
  if (curve.has_phase()) return {title, one_port(curve), PhaseOrigin::measured, {}, curve, {}};
  const MinimumPhase phase = minimum_phase(curve);
  std::vector<OnePort> alternatives;
  for (const Array& other : phase.alternatives_deg)
    alternatives.push_back(one_port(curve.with_phase(other)));
  return {title,
          one_port(curve.with_phase(phase.phase_deg)),
          PhaseOrigin::minimum,
          std::move(alternatives),
          curve,
          {printable(title) + " has no phase; its minimum phase is used, and the light band shows "
                              "what any passive phase would allow"}};
}

Earphone read_earphone(const std::filesystem::path& file) {
  auto [curve, warnings] = read_impedance(file);
  Earphone earphone = earphone_from_curve(curve);
  warnings.insert(warnings.end(), earphone.warnings.begin(), earphone.warnings.end());
  earphone.warnings = std::move(warnings);
  return earphone;
}

}  // namespace ohmtilt
