#include <fmt/format.h>

#include <ohmtilt/text/text.h>
#include <plots/figures/wiring_figure.h>

namespace ohmtilt::plots {
namespace {

using Symbol = SchematicPart::Symbol;

SchematicCell cell(SchematicCell::Kind kind, const std::string& text) {
  return {kind, {}, {}, {}, text};
}

SchematicPart part_of(WiredPart part) {
  switch (part) {
    case WiredPart::earphone:
      return {Symbol::measured, "earphone"};
    case WiredPart::same:
    case WiredPart::open:
      return {Symbol::gap, "nothing"};
    case WiredPart::shorted:
      return {Symbol::wire, "short"};
    case WiredPart::known:
      return {Symbol::resistor, "known"};
  }
  return {};
}

std::string label_of(WiredPart part) {
  switch (part) {
    case WiredPart::earphone:
      return "off the ears: tip (left) or ring (right) to sleeve";
    case WiredPart::same:
    case WiredPart::open:
      return "earphone unplugged";
    case WiredPart::shorted:
      return "short in the earphone's place";
    case WiredPart::known:
      return "known resistor in the earphone's place";
  }
  return {};
}

std::string title_of(Wiring wiring, WiredPart part) {
  const std::string second = wiring == Wiring::load ? "the earphone's place" : "the reference";
  switch (part) {
    case WiredPart::earphone:
      return std::string("Wiring: input 1 across both, input 2 across the ") +
             (wiring == Wiring::load ? "earphone" : "reference");
    case WiredPart::same:
      return "Calibration, same: both inputs on the output";
    case WiredPart::open:
      return "Calibration, open: input 2 across " + second + ", nothing connected";
    case WiredPart::shorted:
      return "Calibration, short: input 2 across " + second;
    case WiredPart::known:
      return "Calibration, known resistor: input 2 across " + second;
  }
  return {};
}

std::string reference_label(const std::optional<double>& ohm) {
  if (!ohm) return "resistor, 10 to 47 ohm, 1 W";
  return fmt::format("known resistor, {} W", number_text(reference_watt(*ohm)));
}

const char* const caption =
    "Start quietly. Line inputs, never a microphone input: 1 is left (tip), 2 right (ring), "
    "ground the sleeve.";

}  // namespace

double reference_watt(double reference_ohm) {
  constexpr double line_volt = 2;
  for (const double rating : {0.25, 0.5, 1.0, 2.0, 5.0})
    if (rating >= line_volt * line_volt / reference_ohm) return rating;
  return 10;
}

Schematic wiring_schematic(Wiring wiring, WiredPart part,
                           const std::optional<double>& reference_ohm) {
  const bool at_load = wiring == Wiring::load;
  const SchematicPart reference{Symbol::resistor,
                                reference_ohm ? number_text(*reference_ohm) + " ohm" : "reference"};
  const SchematicPart load = part_of(part);
  const std::string load_label = label_of(part), resistor_label = reference_label(reference_ohm);
  const SchematicCell second = cell(SchematicCell::Kind::tap, "input 2");
  const bool same = part == WiredPart::same;
  SchematicGroup source{"headphone or line output, tip to sleeve",
                        {cell(SchematicCell::Kind::source, ""),
                         cell(SchematicCell::Kind::tap, same ? "inputs 1 and 2" : "input 1")},
                        {}};
  SchematicGroup upper{at_load ? resistor_label : load_label,
                       {{SchematicCell::Kind::parts, at_load ? reference : load, {}, {}, ""}},
                       {}};
  if (!same) upper.cells.push_back(second);
  const SchematicCell lower{
      SchematicCell::Kind::ground_end, {}, {}, at_load ? load : reference, "input ground"};
  return {title_of(wiring, part),
          caption,
          {source, upper, {at_load ? load_label : resistor_label, {lower}, {}}}};
}

}  // namespace ohmtilt::plots
