#pragma once
#include <string>

#include <plots/drawing.h>
#include <plots/panel.h>
#include <plots/theme.h>

namespace ohmtilt::plots {

enum class Format { svg, png, pdf, terminal, window };

/// The gnuplot commands, data included, that draw sheet: a pure function of its arguments.
/// A terminal has a canvas of its own.
std::string script(const Sheet& sheet, Format format, const Canvas& canvas = page());
/// The same of strokes and texts on that canvas. Not for a terminal.
std::string script(const Drawing& drawing, Format format, const Canvas& canvas = page());

}  // namespace ohmtilt::plots
