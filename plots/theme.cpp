#include <fmt/format.h>
#include <plots/theme.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace ohmtilt::plots {
namespace {

struct Style {
  unsigned rgb;
  const char* dash;  ///< gnuplot dash pattern in line widths, or "solid"
  double width;
  int mark;  ///< gnuplot point type
};

/// Neighbours differ in lightness too: blue, vermilion, green, purple, orange, sky blue, black,
/// yellow.
constexpr std::array<Style, 8> styles = {{{0x0072B2, "solid", 2.4, 7},
                                          {0xD55E00, "(7,3)", 2.4, 5},
                                          {0x009E73, "(2.2,3.2)", 2.8, 9},
                                          {0xCC79A7, "(9,2.5,2,2.5)", 2.6, 11},
                                          {0xE69F00, "solid", 1.5, 13},
                                          {0x56B4E9, "(12,4)", 1.8, 6},
                                          {0x000000, "(4,3.5)", 1.5, 4},
                                          {0xB5A82E, "(9,2,2,2,2,2)", 1.8, 8}}};
constexpr Style ink_style = {0x3a4048, "solid", 1.6, 7};

const Style& style(Series series) {
  return series < 0 ? ink_style : styles[static_cast<std::size_t>(series) % styles.size()];
}

/// Between a (part 0) and b (part 1), a colour channel at a time.
unsigned mixed(unsigned a, unsigned b, double part) {
  unsigned result = 0;
  for (const unsigned shift : {16u, 8u, 0u}) {
    const double from = (a >> shift) & 0xffu, to = (b >> shift) & 0xffu;
    result |= static_cast<unsigned>(std::lround(from + part * (to - from))) << shift;
  }
  return result;
}

std::string hex(unsigned rgb) { return fmt::format("#{:06x}", rgb); }

/// gnuplot's line types of a terminal are signs: 1 to 6 for the series, 7 for ink.
int terminal_type(Series series) { return series < 0 ? 7 : series % 6 + 1; }

}  // namespace

std::string colour(Series series) { return hex(style(series).rgb); }

std::string tint(Series series) { return hex(mixed(0xffffff, style(series).rgb, 0.2)); }

std::string line_style(const Canvas& canvas, Series series) {
  if (canvas.terminal) return fmt::format("lt {}", terminal_type(series));
  const Style& s = style(series);
  return fmt::format("lc rgb '{}' lw {} dt {}", colour(series), s.width, s.dash);
}

std::string mark_style(const Canvas& canvas, Series series) {
  if (canvas.terminal) return fmt::format("lt {0} pt {0}", terminal_type(series));
  return fmt::format("lc rgb '{}' lw 1.4 pt {} ps 0.9", colour(series), style(series).mark);
}

std::string mark_halo_style(Series series) {
  return fmt::format("lc rgb '#ffffff' lw 1.4 pt {} ps 1.7", style(series).mark);
}

char terminal_letter(Series series) {
  constexpr std::string_view letters = "*#$%@&=";
  return letters[static_cast<std::size_t>(terminal_type(series) - 1)];
}

/// gnuplot's point types of a terminal are the letters of the alphabet.
char terminal_mark(Series series) { return static_cast<char>('A' + terminal_type(series) - 1); }

std::string shade_colour(double shade) {
  return hex(mixed(0xf7f9fb, 0x0b3c5d, std::clamp(shade, 0.0, 1.0)));
}

/// White takes over where it stands out as black does: a contrast of 4.5 : 1 or more (WCAG 2.1) on
/// every shade.
std::string colour_on_shade(double shade) { return shade > 0.67 ? "#ffffff" : "#000000"; }

double Canvas::text_width(const std::string& text, const Face& face) const {
  return terminal ? columns(text) : face.size * (face.bold ? 1.1 : 1.0) * width_em(text);
}

std::string Canvas::fitted(const std::string& text, const Face& face, double room) const {
  return lines(text, face, room, 1).front();
}

std::vector<std::string> Canvas::lines(const std::string& text, const Face& face, double room,
                                       std::size_t at_most) const {
  const double unit = terminal ? 1 : face.size * (face.bold ? 1.1 : 1.0);
  return wrapped(text, room / unit, at_most, terminal ? columns : width_em);
}

Canvas page() {
  Canvas canvas;
  canvas.title = {17, 23, true, text_colour};
  canvas.subtitle = {13.5, 20, false, quiet_colour};
  canvas.heading = {13, 24, true, text_colour};
  canvas.remark = {11.5, 24, false, quiet_colour};
  canvas.tick = {12, 18, false, quiet_colour};
  canvas.label = {12.5, 16, false, text_colour};
  canvas.caption = {10.5, 14.5, false, quiet_colour};
  return canvas;
}

Canvas phone_page() {
  Canvas canvas = page();
  canvas.width = 380;
  canvas.margin = 6;
  canvas.sample = 18;
  canvas.widest_label = 82;
  canvas.label.size = 11.5;
  canvas.label.line = 14;
  return canvas;
}

Canvas terminal_page() {
  const Face plain = {1, 1, false, text_colour};
  return {.terminal = true,
          .width = 79,
          .margin = 1,
          .gap = 1,
          .panel_height = 16,
          .sample = 0,
          .space = 1,
          .widest_label = 16,
          .title = plain,
          .subtitle = plain,
          .heading = plain,
          .remark = plain,
          .tick = plain,
          .label = plain,
          .caption = plain};
}

}  // namespace ohmtilt::plots
