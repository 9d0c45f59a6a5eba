#include <unistd.h>

#include <fmt/format.h>

#include <tools/ohmtilt/program/progress.h>
#include <chrono>
#include <iostream>

namespace ohmtilt::cli {

std::function<void(double)> progress_line(const Session& session, const std::string& what) {
  if (&session.err != &std::cerr || ::isatty(STDERR_FILENO) == 0) return nullptr;
  using Clock = std::chrono::steady_clock;
  return [what, start = Clock::now(), shown = false](double done) mutable {
    if (Clock::now() - start > std::chrono::seconds(1) && done < 1) {
      std::cerr << fmt::format("\r{}: {:.0f} %", what, 100 * done) << std::flush;
      shown = true;
    }
    if (done >= 1 && shown) std::cerr << "\r" << std::string(what.size() + 7, ' ') << "\r";
  };
}

}  // namespace ohmtilt::cli
