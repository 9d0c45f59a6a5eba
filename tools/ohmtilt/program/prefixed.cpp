#include <fmt/format.h>

#include <ohmtilt/text/quantities.h>
#include <tools/ohmtilt/program/prefixed.h>
#include <tools/ohmtilt/program/wording.h>
#include <utility>

namespace ohmtilt::cli {

std::string with_prefix(double value, const std::string& unit) {
  constexpr std::pair<double, const char*> prefixes[] = {
      {1, ""}, {1e-3, "m"}, {1e-6, "u"}, {1e-9, "n"}, {1e-12, "p"}};
  for (const auto& [scale, prefix] : prefixes)
    if (value >= scale * 0.9995) return fmt::format("{:.3g} {}{}", value / scale, prefix, unit);
  return fmt::format("{:.3g} {}", value, unit);
}

std::string part_value_text(double value, const std::string& key) {
  if (key.ends_with("ohm")) return ohm_text(value);
  if (key.ends_with("henry")) return with_prefix(value, "H");
  if (key.ends_with("farad")) return with_prefix(value, "F");
  return significant(value, 4);
}

}  // namespace ohmtilt::cli
