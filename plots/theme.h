#pragma once
#include <string>

#include <plots/panel.h>
#include <plots/text.h>

namespace ohmtilt::plots {

/// One kind of text: size and line height in the canvas's units.
struct Face {
  double size = 12;
  double line = 16;
  bool bold = false;
  std::string colour;
};

/// What a sheet is drawn on: sizes in units of about a point, or in characters of a terminal.
struct Canvas {
  bool terminal = false;
  double width = 760;
  double margin = 16;         ///< on all sides
  double gap = 12;            ///< between panels
  double panel_height = 200;  ///< of a panel of height 1
  double sample = 26;         ///< length of the sample of a line before its label
  double space = 6;           ///< between a text and what it belongs to
  double widest_label = 150;  ///< a line of a series' label
  Face title, subtitle, heading, remark, tick, label, caption;

  /// Width of text set in face.
  double text_width(const std::string& text, const Face& face) const;
  /// text cut to room, with an ellipsis.
  std::string fitted(const std::string& text, const Face& face, double room) const;
  /// text in at most at_most lines of room each.
  std::vector<std::string> lines(const std::string& text, const Face& face, double room,
                                 std::size_t at_most) const;
};

/// The house's canvas for files and windows, and the one for `--plot text` (79 columns).
Canvas page();
/// As narrow as a phone: what is drawn on it is read at its own size there.
Canvas phone_page();
Canvas terminal_page();

/// Colours as "#rrggbb". The palette is that of [Okabe2008], which people with any of the
/// common kinds of colour blindness can tell apart; its yellow, too light on white, is left for
/// last and darkened.
std::string colour(Series series);
/// A light tint of it, for areas.
std::string tint(Series series);
/// gnuplot's words for a series: colour, width and a dash of its own, told apart in grey print.
std::string line_style(const Canvas& canvas, Series series);
std::string mark_style(const Canvas& canvas, Series series);
/// A white edge to be drawn under such a mark, for marks that stand on bars.
std::string mark_halo_style(Series series);
/// The signs a series is drawn with in a terminal: its lines and bars, and its points.
char terminal_letter(Series series);
char terminal_mark(Series series);
/// Colour of a heat map cell and of the number in it.
std::string shade_colour(double shade);
std::string colour_on_shade(double shade);

inline constexpr const char* text_colour = "#1b1f24";
inline constexpr const char* quiet_colour = "#5c646e";
inline constexpr const char* grid_colour = "#dfe3e8";
inline constexpr const char* axis_colour = "#8a929c";
inline constexpr const char* rule_colour = "#9aa2ac";
inline constexpr const char* strip_colour = "#eef1f5";

}  // namespace ohmtilt::plots
