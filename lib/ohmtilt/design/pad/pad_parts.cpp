#include <ohmtilt/design/insertion/resistive_two_port.h>
#include <ohmtilt/design/pad/pad_parts.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/resistor_code.h>
#include <ohmtilt/text/text.h>

namespace ohmtilt {

double derating(double celsius) {
  if (!(celsius >= -55 && celsius < 150))
    throw InputError("surroundings of " + number_text(celsius) + " deg C are not for resistors",
                     "give -55 to less than 150");
  return celsius <= 70 ? 1 : (155 - celsius) / (155 - 70);
}

double standard_rating_watt(double watt, double celsius) {
  const double part = derating(celsius);
  for (const double rating :
       {0.0625, 0.1, 0.125, 0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 10.0, 20.0, 25.0, 50.0, 100.0, 200.0})
    if (rating * part > 2 * watt) return rating;
  throw InputError(
      "a resistor that turns " + number_text(watt) + " W into heat is not allowed in a pad",
      "check the level");
}

std::vector<PadPart> pad_parts(const Pad& pad, const std::vector<double>& dissipation_milliwatt,
                               double celsius) {
  const auto& keys = pad_keys(pad.topology);
  const auto counts = resistors_per_value(pad.topology);
  std::vector<PadPart> parts;
  for (std::size_t i = 0; i < keys.size(); ++i)
    parts.push_back({keys[i].substr(0, keys[i].rfind("_ohm")), counts[i], pad.ohm[i],
                     resistance_code(pad.ohm[i]),
                     standard_rating_watt(dissipation_milliwatt[i] / 1000, celsius),
                     pad.tolerance_percent});
  return parts;
}

}  // namespace ohmtilt
