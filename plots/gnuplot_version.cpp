#include <ohmtilt/text/text.h>
#include <plots/gnuplot_version.h>
#include <array>
#include <cstdio>

namespace ohmtilt::plots {

std::optional<std::string> gnuplot_version() {
  std::FILE* const answer = ::popen("gnuplot --version 2>/dev/null", "r");
  if (answer == nullptr) return std::nullopt;
  std::array<char, 200> line{};
  const bool said = std::fgets(line.data(), line.size(), answer) != nullptr;
  const int status = ::pclose(answer);
  const std::string text = printable(trimmed(line.data()));
  if (!said || status != 0 || text.empty()) return std::nullopt;
  return text;
}

}  // namespace ohmtilt::plots
