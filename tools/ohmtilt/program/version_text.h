#pragma once
#include <string>

namespace ohmtilt::cli {

/// "ohmtilt 0.1.0", and below it the libraries it stands on with their versions, and gnuplot as it
/// is found now.
std::string version_text();

}  // namespace ohmtilt::cli
