#pragma once
// What the parts of script.cpp share; nothing outside plots/ includes it.
#include <fmt/format.h>
#include <plots/layout.h>

#include <charconv>
#include <cmath>
#include <iterator>
#include <string>

namespace ohmtilt::plots {

/// Gathers the commands of one sheet.
class Writer {
 public:
  Writer(const Canvas& on, const Layout& placed) : canvas(on), layout(placed) {}
  template <class... Arguments>
  void put(fmt::format_string<Arguments...> format, Arguments&&... arguments) {
    fmt::format_to(std::back_inserter(text), format, std::forward<Arguments>(arguments)...);
  }
  /// Six figures, enough for a figure; NaN for what is not finite, which gnuplot draws as a gap.
  void number(double value) {
    char buffer[32];
    const auto end =
        std::to_chars(buffer, buffer + sizeof buffer, value, std::chars_format::general, 6).ptr;
    text.append(std::isfinite(value) ? std::string_view(buffer, end) : std::string_view("NaN"));
  }
  /// A point of the canvas in gnuplot's words.
  std::string at(double x, double y) const {
    return fmt::format("screen {:.5f},screen {:.5f}", x / canvas.width, y / layout.height);
  }
  std::string font(const Face& face) const {
    if (canvas.terminal) return "";
    return fmt::format(" font '{},{:g}' tc rgb '{}'", face.bold ? bold : "sans-serif", face.size,
                       face.colour);
  }

  const Canvas& canvas;
  const Layout& layout;
  const char* bold = "sans-serif:Bold";
  std::string text;
};

/// "left", "center", "right", gnuplot's words.
inline const char* side_word(Note::Side side) {
  constexpr const char* words[] = {"left", "center", "right"};
  return words[static_cast<int>(side)];
}

/// Rules, strips, notes, the numbers of cells: what is set before the plot command.
void write_decoration(Writer& w, const Panel& panel);

/// The labels of series in the right margin, each with a sample and, where it had to move, a
/// leader.
void write_labels(Writer& w, const PlacedPanel& placed);

/// The data of the panel and the plot command that draws them.
void write_plot(Writer& w, const Panel& panel);

}  // namespace ohmtilt::plots
