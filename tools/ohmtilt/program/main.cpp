#include <fcntl.h>
#include <unistd.h>

#include <iostream>
#include <string_view>

#include <tools/ohmtilt/program/run.h>
#include <tools/ohmtilt/program/signals.h>

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
  ohmtilt::cli::handle_signals();
  try {
    std::ios::sync_with_stdio(false);
    return ohmtilt::cli::run({arguments + (count > 0 ? 1 : 0), arguments + count}, std::cout,
                             std::cerr);
  } catch (...) {
    constexpr std::string_view sentence = "ohmtilt: there is not enough memory\n";
    return ::write(STDERR_FILENO, sentence.data(), sentence.size()) < 0
               ? ohmtilt::cli::Exit::output_failed
               : ohmtilt::cli::Exit::bad_input;
  }
}
