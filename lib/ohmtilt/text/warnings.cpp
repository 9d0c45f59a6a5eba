#include <ohmtilt/text/warnings.h>

#include <algorithm>

namespace ohmtilt {

void append_new(std::vector<std::string>& all, const std::vector<std::string>& more) {
  for (const auto& text : more)
    if (std::find(all.begin(), all.end(), text) == all.end()) all.push_back(text);
}

}  // namespace ohmtilt
