#pragma once
#include <string>

#include <plots/drawing.h>
#include <plots/panel.h>

namespace ohmtilt::plots {

enum class Format { svg, png, pdf, terminal, window };

/// The gnuplot commands, data included, that draw sheet: a pure function of its arguments.
std::string script(const Sheet& sheet, Format format);
/// The same of strokes and texts on page(). Not for a terminal.
std::string script(const Drawing& drawing, Format format);

}  // namespace ohmtilt::plots
