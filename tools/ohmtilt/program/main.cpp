#include <fcntl.h>

#include <csignal>
#include <iostream>

#include <tools/ohmtilt/program/run.h>

namespace {

/// Started with a closed standard stream, the program would give its number to the next file that
/// it opens, and the answer would go there. Writing to what is opened here for reading is an error.
void occupy_standard_streams() {
  for (int number = ::open("/dev/null", O_RDONLY); number >= 0 && number <= 2;
       number = ::open("/dev/null", O_RDONLY))
    continue;
}

}  // namespace

int main(int count, char** arguments) {
  occupy_standard_streams();
  std::signal(SIGPIPE, SIG_IGN);  // a closed pipe is an output error, not a death
  std::signal(SIGXFSZ, SIG_IGN);  // so is a file that grows beyond its limit
  std::ios::sync_with_stdio(false);
  return ohmtilt::cli::run({arguments + (count > 0 ? 1 : 0), arguments + count}, std::cout,
                           std::cerr);
}
