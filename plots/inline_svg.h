#pragma once
// Figures as parts of an HTML page.
#include <functional>
#include <string>
#include <variant>
#include <vector>

#include <plots/figures/schematic.h>
#include <plots/panel.h>

namespace ohmtilt::plots {

/// A figure for a page. Its own title, subtitle and caption are left out: the page says them.
struct PageFigure {
  std::string id;           ///< letters, digits and '-': no other figure of the page has it
  std::string alternative;  ///< said in place of the picture; may hold anything
  std::variant<Sheet, Schematic> content;
  bool narrow = false;  ///< drawn for a phone
};

/// One <svg> element a figure, in their order: made of known elements and attributes only, without
/// style, script, link or address, and with every id behind the figure's own. Its colours are the
/// custom properties of palette(), so that the page's style sheet sets them, for light and for
/// dark. Several figures are drawn at once. Throws OutputError when gnuplot is missing or fails.
/// progress, where there is one, is told which part is done.
std::vector<std::string> inline_svgs(const std::vector<PageFigure>& figures,
                                     const std::function<void(double)>& progress = nullptr);

/// A colour of the house's theme and its custom property: {"--text", "#1b1f24"}, "--series-0",
/// "--tint-0" and so on. A colour that two of them share is named by the first.
struct PaletteEntry {
  std::string property, colour;
};
std::vector<PaletteEntry> palette();

/// What gnuplot drew as SVG, for a page. Throws OutputError for what it does not know.
std::string inline_svg(const std::string& drawn, const PageFigure& figure);

}  // namespace ohmtilt::plots
