#include <fmt/format.h>

#include <tools/ohmtilt/program/progress.h>
#include <tools/ohmtilt/program/session.h>
#include <tools/ohmtilt/program/standard_streams.h>
#include <chrono>
#include <iostream>

namespace ohmtilt::cli {

std::function<void(double)> progress_line(const Session& session, const std::string& what) {
  if (!session.err.is(std::cerr) || !errors_go_to_a_terminal()) return nullptr;
  using Clock = std::chrono::steady_clock;
  return [what, terminal = session.err, start = Clock::now(), on = false](double done) mutable {
    if (Clock::now() - start > std::chrono::seconds(1) && done < 1) {
      terminal << TerminalText::written_here("\r") +
                      shown(fmt::format("{}: {:.0f} %", what, 100 * done));
      on = true;
    }
    if (done >= 1 && on)
      terminal << TerminalText::written_here("\r" + std::string(what.size() + 7, ' ') + "\r");
    terminal.flush();
  };
}

}  // namespace ohmtilt::cli
