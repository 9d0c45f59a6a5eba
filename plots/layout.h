#pragma once
#include <string>
#include <vector>

#include <plots/panel.h>
#include <plots/theme.h>

namespace ohmtilt::plots {

/// Text at a place on the canvas; y is its middle. Already cut to the room there is.
struct PlacedText {
  double x = 0, y = 0;
  Note::Side side = Note::Side::left;
  std::string text;
  Face face;
};

struct Box {
  double left = 0, right = 0, bottom = 0, top = 0;
  double x(double fraction) const { return left + fraction * (right - left); }
  double y(double fraction) const { return bottom + fraction * (top - bottom); }
};

/// The label of a series in the right margin: where its last value is drawn, and where it stands.
struct PlacedLabel {
  enum class Sample { line, mark, bar } sample = Sample::line;
  Series series = 0;
  std::vector<std::string> lines;
  double x_end = 0, y_end = 0;
  double y = 0;
};

struct PlacedPanel {
  Box plot;
  std::vector<PlacedLabel> labels;
};

/// Where everything stands, in canvas units from the lower left corner.
struct Layout {
  double height = 0;
  std::vector<PlacedText> texts;
  std::vector<PlacedPanel> panels;
};

Layout lay_out(const Sheet& sheet, const Canvas& canvas);

}  // namespace ohmtilt::plots
