#include <tools/ohmtilt/program/text_range.h>

namespace ohmtilt::cli {

std::optional<std::pair<std::string, std::string>> split_range(const std::string& text) {
  for (auto dash = text.find('-', 1); dash != std::string::npos; dash = text.find('-', dash + 1)) {
    const char before = text[dash - 1];
    if (before == 'e' || before == 'E' || dash + 1 == text.size()) continue;
    return std::pair(text.substr(0, dash), text.substr(dash + 1));
  }
  return std::nullopt;
}

}  // namespace ohmtilt::cli
