#include <ohmtilt/text/text.h>
#include <plots/gnuplot_version.h>
#include <plots/session.h>

namespace ohmtilt::plots {

std::optional<std::string> gnuplot_version() {
  const Ended answer = ChildProcess({"gnuplot", "--version"}).wait(drawing_time());
  const std::string first_line = answer.said.substr(0, answer.said.find('\n'));
  const std::string text = printable(trimmed(first_line));
  if (!answer.well() || text.empty()) return std::nullopt;
  return text;
}

}  // namespace ohmtilt::plots
