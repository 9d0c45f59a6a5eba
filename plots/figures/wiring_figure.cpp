#include <plots/figures/wiring_figure.h>

namespace ohmtilt::plots {
namespace {

using Cell = SchematicCell;
using Symbol = SchematicPart::Symbol;

Cell cell(Cell::Kind kind, const std::string& text) { return {kind, {}, {}, {}, text}; }

}  // namespace

Schematic wiring_schematic(Wiring wiring) {
  const bool at_load = wiring == Wiring::load;
  const SchematicPart reference{Symbol::resistor, "reference"};
  const SchematicPart earphone{Symbol::measured, "earphone"};
  const Cell upper{Cell::Kind::parts, at_load ? reference : earphone, {}, {}, ""};
  const Cell lower{Cell::Kind::ground_end, {}, {}, at_load ? earphone : reference, "input ground"};
  const std::string second = at_load ? "earphone" : "reference";
  return {"Wiring: input 1 across both, input 2 across the " + second,
          "Start quietly. Symbols as in IEC 60617.",
          {{"sound card's output",
            {cell(Cell::Kind::source, ""), cell(Cell::Kind::tap, "input 1")},
            {}},
           {at_load ? "known resistor" : "one channel, off the ears",
            {upper, cell(Cell::Kind::tap, "input 2")},
            {}},
           {at_load ? "one channel, off the ears" : "known resistor", {lower}, {}}}};
}

}  // namespace ohmtilt::plots
