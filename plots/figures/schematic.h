#pragma once
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/chain/chain.h>
#include <plots/figure.h>

namespace ohmtilt::plots {

/// A two-terminal symbol of IEC 60617 with its value beside it. Text is drawn as it stands.
struct SchematicPart {
  enum class Symbol {
    resistor,
    capacitor,
    inductor,
    measured,
    wire,  ///< a plain connection
    gap    ///< two terminals with nothing between
  } symbol = Symbol::resistor;
  std::string value;  ///< "18 ohm"
};

/// One step along the two conductors, from left to right.
struct SchematicCell {
  enum class Kind {
    parts,          ///< live, back, across: whichever are there
    source,         ///< an e.m.f. across the left end
    open_ends,      ///< a pair of terminals
    transformer,    ///< text: its ratio
    potentiometer,  ///< text: its resistance and travel
    box,            ///< text: what is in it
    earphone,       ///< a load across the right end
    tap,            ///< a terminal above the live conductor; text: what is connected there
    ground_end      ///< across between the conductors' ends, and a terminal at the back; text: what
                    ///< is connected there
  } kind = Kind::parts;
  std::optional<SchematicPart> live, back;
  std::optional<SchematicPart> across;  ///< at the right end of the cell
  std::string text;
};

/// Cells that stand in one row, such as a pad's, with what is said below them.
struct SchematicGroup {
  std::string label;
  std::vector<SchematicCell> cells;
  std::optional<SchematicPart> bridge;  ///< over the whole group
};

/// A chain or a pad as it is drawn.
struct Schematic {
  std::string title;
  std::string caption;
  std::vector<SchematicGroup> groups;
};

/// Amplifier, stages and earphone with their values. Of a balanced amplifier both legs' output
/// impedance is one symbol.
Schematic schematic(const Chain& chain);
/// The pad alone, between two pairs of terminals.
Schematic schematic(const Pad& pad, const std::string& title);

/// "18 ohm", "4.7 kohm", "220 µF": three figures and a prefix.
std::string engineering(double value, const std::string& unit);

/// Throws OutputError as draw(Sheet). There is no drawing for a terminal.
void draw(const Schematic& schematic, const Output& output);

}  // namespace ohmtilt::plots
