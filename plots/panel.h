#pragma once
// What a figure is made of, as values: a sheet of panels above one another. A new figure is one
// function that fills these in; layout.h and script.h do the rest. Text is drawn as it stands,
// whatever is in it.
#include <string>
#include <vector>

#include <ohmtilt/base/array.h>

namespace ohmtilt::plots {

enum class Scale { linear, logarithmic };

struct Tick {
  double at = 0;
  std::string text;  ///< empty: a small tick without text
};

/// One axis with its limits and ticks; axis.h makes them. Limits are never taken from gnuplot.
struct Axis {
  std::string label;  ///< drawn below an x axis; the panel's heading names y
  Scale scale = Scale::linear;
  double low = 0, high = 1;  ///< low < high; positive on a logarithmic axis
  std::vector<Tick> ticks;
  bool grid = true;          ///< light lines at the ticks that have text
  double text_share = 0.25;  ///< of the sheet's width, that a text beside a y tick takes at most

  /// 0 at low, 1 at high.
  double fraction(double value) const;
};

/// A series is a number from 0: it gives colour, dash and mark (theme.h). ink is the neutral one,
/// for what is compared with.
using Series = int;
inline constexpr Series ink = -1;

/// Values over x; a value that is not finite is a gap. The label stands at the line's right end.
struct Line {
  std::string label;
  Array x, y;
  Series series = 0;
};

/// A light area between two lines.
struct Area {
  Array x, low, high;
  Series series = 0;
};

/// Upright bars from base to value, from x_low to x_high (third-octave edges, for instance).
struct Bars {
  std::string label;
  Array x_low, x_high, value;
  double base = 0;
  Series series = 0;
};

/// Marks, one a point; texts (none, or one a point) stand beside them.
struct Points {
  std::string label;
  Array x, y;
  std::vector<std::string> texts;
  Series series = 0;
};

/// A rectangle of a heat map: shade 0 (white) to 1 (darkest), with its number in the middle.
struct Cell {
  double x_low = 0, x_high = 1, y_low = 0, y_high = 1;
  double shade = 0;
  std::string text;
};

/// A thin line across the panel: at one x (upright) or at one y. pointed: with a small mark on its
/// end.
struct Rule {
  enum class Direction { upright, level } direction = Direction::level;
  double at = 0;
  bool pointed = false;
};

/// A light upright strip from x_low to x_high.
struct Strip {
  double x_low = 0, x_high = 1;
};

/// Free text at a point of the panel.
struct Note {
  enum class Side {
    left,
    centre,
    right
  } side = Side::left;  ///< which end of the text is at the point
  double x = 0, y = 0;
  std::string text;
};

/// One coordinate system. heading stands above its left end and says what is drawn and in which
/// unit; remark stands above its right end.
struct Panel {
  std::string heading, remark;
  Axis x, y;
  double height = 1;        ///< relative to the other panels
  bool shares_x = false;    ///< its x axis is the one of the next panel below: no tick texts
  bool in_terminal = true;  ///< drawn by `--plot text` too
  std::vector<Strip> strips;
  std::vector<Rule> rules;
  std::vector<Area> areas;
  std::vector<Bars> bars;
  std::vector<Cell> cells;
  std::vector<Line> lines;
  std::vector<Points> points;
  std::vector<Note> notes;
};

/// A whole figure.
struct Sheet {
  std::string title;     ///< the conclusion
  std::string subtitle;  ///< what it is about
  std::string caption;   ///< inputs and assumptions, small, at the bottom
  std::vector<Panel> panels;
};

}  // namespace ohmtilt::plots
