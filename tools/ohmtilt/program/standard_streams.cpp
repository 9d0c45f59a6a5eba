#include <tools/ohmtilt/program/standard_streams.h>

#include <fcntl.h>
#include <unistd.h>

namespace ohmtilt::cli {

void occupy_standard_streams() {
  for (int number = ::open("/dev/null", O_RDONLY); number >= 0 && number <= 2;
       number = ::open("/dev/null", O_RDONLY))
    continue;
}

bool errors_go_to_a_terminal() { return ::isatty(STDERR_FILENO) != 0; }

bool write_without_memory(std::string_view sentence) noexcept {
  return ::write(STDERR_FILENO, sentence.data(), sentence.size()) >= 0;
}

}  // namespace ohmtilt::cli
