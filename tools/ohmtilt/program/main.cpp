#include <cstdlib>
#include <exception>
#include <iostream>
#include <new>

#include <ohmtilt/text/temporary_name.h>
#include <tools/ohmtilt/program/run.h>
#include <tools/ohmtilt/program/signals.h>
#include <tools/ohmtilt/program/standard_streams.h>

namespace {

constexpr const char* no_memory = "ohmtilt: there is not enough memory\n";

/// For functions of libraries that promise not to throw and take memory all the same (CLI11 2.4
/// looks an option's name up with one).
[[noreturn]] void end_where_nothing_may_be_thrown() {
  try {
    if (const auto thrown = std::current_exception()) std::rethrow_exception(thrown);
  } catch (const std::bad_alloc&) {
    ohmtilt::remove_unfinished_files();
    ohmtilt::cli::write_without_memory(no_memory);
    std::_Exit(ohmtilt::cli::Exit::output_failed);
  } catch (...) {
  }
  std::abort();
}

}  // namespace

int main(int count, char** arguments) {
  using namespace ohmtilt::cli;
  occupy_standard_streams();
  handle_signals();
  std::set_terminate(end_where_nothing_may_be_thrown);
  try {
    std::ios::sync_with_stdio(false);
    return run({arguments + (count > 0 ? 1 : 0), arguments + count}, std::cout, std::cerr);
  } catch (...) {
    return write_without_memory(no_memory) ? Exit::bad_input : Exit::output_failed;
  }
}
