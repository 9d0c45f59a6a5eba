#include <ohmtilt/text/temporary_name.h>
#include <plots/child_process.h>
#include <tools/ohmtilt/program/signals.h>
#include <csignal>

namespace ohmtilt::cli {
namespace {

extern "C" void end_by(int number) {
  remove_unfinished_files();
  plots::kill_child_processes();
  std::signal(number, SIG_DFL);
  sigset_t this_one;
  ::sigemptyset(&this_one);
  ::sigaddset(&this_one, number);
  std::raise(number);
  ::pthread_sigmask(SIG_UNBLOCK, &this_one, nullptr);  // here it ends
}

}  // namespace

void handle_signals() {
  std::signal(SIGPIPE, SIG_IGN);
  std::signal(SIGXFSZ, SIG_IGN);
  for (const int number : {SIGINT, SIGTERM, SIGHUP, SIGQUIT})
    if (std::signal(number, end_by) == SIG_IGN) std::signal(number, SIG_IGN);
}

}  // namespace ohmtilt::cli
