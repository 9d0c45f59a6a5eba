#pragma once
#include <string>

#include <plots/panel.h>

namespace ohmtilt::plots {

enum class Format { svg, png, pdf, terminal, window };

/// The gnuplot commands, data included, that draw sheet: a pure function of its arguments.
std::string script(const Sheet& sheet, Format format);

}  // namespace ohmtilt::plots
