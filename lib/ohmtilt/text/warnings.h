#pragma once
#include <string>
#include <vector>

namespace ohmtilt {

/// Adds to all what more says that all does not say yet, in its order.
void append_new(std::vector<std::string>& all, const std::vector<std::string>& more);

}  // namespace ohmtilt
