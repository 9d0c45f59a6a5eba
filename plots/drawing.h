#pragma once
#include <string>
#include <vector>

#include <plots/figures/schematic.h>
#include <plots/layout.h>

namespace ohmtilt::plots {

struct Spot {
  double x = 0, y = 0;
};

/// A line through points.
struct Stroke {
  enum class Pen { wire, symbol, bracket } pen = Pen::wire;
  std::vector<Spot> points;
};

/// Strokes, dots and texts in canvas units, from the lower left corner.
struct Drawing {
  double width = 0, height = 0;
  std::vector<Stroke> strokes;
  std::vector<Spot> junctions;  ///< filled dots
  std::vector<Spot> terminals;  ///< open dots
  std::vector<PlacedText> texts;
};

/// Rows of groups as wide as the canvas: what does not fit goes on in the next row, and letters
/// tell where. All text is cut to the room there is.
Drawing drawing(const Schematic& schematic, const Canvas& canvas);

}  // namespace ohmtilt::plots
