#include <iostream>

#include <tools/ohmtilt/program/run.h>
#include <tools/ohmtilt/program/signals.h>
#include <tools/ohmtilt/program/standard_streams.h>

int main(int count, char** arguments) {
  using namespace ohmtilt::cli;
  occupy_standard_streams();
  handle_signals();
  try {
    std::ios::sync_with_stdio(false);
    return run({arguments + (count > 0 ? 1 : 0), arguments + count}, std::cout, std::cerr);
  } catch (...) {
    return write_without_memory("ohmtilt: there is not enough memory\n") ? Exit::bad_input
                                                                         : Exit::output_failed;
  }
}
