#pragma once
#include <optional>
#include <string>

namespace ohmtilt::plots {

/// What the gnuplot on the path calls itself ("gnuplot 5.4 patchlevel 4"); nothing when there is
/// none, or it does not answer.
std::optional<std::string> gnuplot_version();

}  // namespace ohmtilt::plots
