#include <csignal>
#include <iostream>

#include <tools/ohmtilt/run.h>

int main(int count, char** arguments) {
  std::signal(SIGPIPE, SIG_IGN);  // a closed pipe is an output error, not a death
  std::ios::sync_with_stdio(false);
  return ohmtilt::cli::run({arguments + (count > 0 ? 1 : 0), arguments + count}, std::cout,
                           std::cerr);
}
